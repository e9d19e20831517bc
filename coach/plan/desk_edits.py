"""Edits of a plan that is being written, and the text that they are made in. Pure.

A text that came from a file keeps its comments and its layout (tomlkit). A new one has none to
keep, and is written by :mod:`coach.plan.write` or, while it is not whole yet, by tomli-w.
"""

import copy
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from typing import Any, Protocol

import tomli_w

from coach.plan.problems import Path

Data = dict[str, Any]


@dataclass(frozen=True, slots=True)
class SetField:
    """Put ``value`` at ``path``; tables on the way are made. None takes the field away."""

    path: Path
    value: Any


@dataclass(frozen=True, slots=True)
class AddTable:
    """Put ``fields`` into the list of tables at ``path``, as number ``index``."""

    path: Path
    index: int
    fields: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class RemoveTable:
    """Take table ``index`` out of the list at ``path``."""

    path: Path
    index: int


@dataclass(frozen=True, slots=True)
class MoveTable:
    """Let table ``index`` of the list at ``path`` be number ``to``."""

    path: Path
    index: int
    to: int


Edit = SetField | AddTable | RemoveTable | MoveTable


class PlanText(Protocol):
    """The text of a plan, whole or not. Frozen: an edit gives another one."""

    def data(self) -> Data:
        """What stands in it, to be read only; decimals as Decimal."""

    def text(self) -> str:
        """As a plan file."""

    def edited(self, edit: Edit) -> "PlanText":
        """The same with ``edit``. Raises KeyError or IndexError for a table that is not there."""


def apply(data: Data, edit: Edit) -> Data:
    """``data`` with ``edit``; ``data`` itself stays as it is."""
    data = copy.deepcopy(data)
    match edit:
        case SetField(path, value):
            table = _table(data, path[:-1], make=value is not None)
            if value is not None:
                table[path[-1]] = copy.deepcopy(value)
            elif table is not None:
                table.pop(path[-1], None)
                _drop_empty(data, path[:-1])
        case AddTable(path, index, fields):
            _list(data, path).insert(index, copy.deepcopy(dict(fields)))
        case RemoveTable(path, index):
            tables = _list(data, path)
            del tables[index]
            if not tables:
                _table(data, path[:-1], make=False).pop(path[-1], None)
        case MoveTable(path, index, to):
            tables = _list(data, path)
            tables.insert(to, tables.pop(index))
    return data


def _table(data: Any, path: Path, *, make: bool) -> Any:
    """The table at ``path``; a missing one is made, or None."""
    for part in path:
        if isinstance(part, str) and part not in data:
            if not make:
                return None
            data[part] = {}
        data = data[part]
    return data


def _list(data: Data, path: Path) -> Any:
    outer = _table(data, path[:-1], make=True)
    return outer.setdefault(path[-1], [])


def _drop_empty(data: Data, path: Path) -> None:
    """A table within a table goes with its last field: an empty one would mean something."""
    if len(path) > 1 and isinstance(path[-1], str) and not _table(data, path, make=False):
        _table(data, path[:-1], make=False).pop(path[-1], None)


@dataclass(frozen=True, slots=True)
class NewText:
    """A plan that no file holds yet."""

    _data: Data

    def data(self) -> Data:
        """What stands in it, to be read only."""
        return self._data

    def text(self) -> str:
        """As TOML, table by table."""
        return tomli_w.dumps(self._data, multiline_strings=True)

    def edited(self, edit: Edit) -> "NewText":
        """The same with ``edit``."""
        return NewText(apply(self._data, edit))


@dataclass(frozen=True, slots=True)
class FileText:
    """A plan that came from a file, with all that people wrote beside it."""

    _text: str

    def data(self) -> Data:
        """What stands in it, to be read only. Raises tomllib.TOMLDecodeError for no TOML."""
        return _parsed(self._text)

    def text(self) -> str:
        """The text as it stands."""
        return self._text

    def edited(self, edit: Edit) -> "FileText":
        """The same with ``edit``; comments stay with what they stand beside."""
        import tomlkit

        wanted = apply(self.data(), edit)
        document = tomlkit.parse(self._text)
        _edit_document(document, edit)
        text = tomlkit.dumps(document)
        if tomllib.loads(text, parse_float=Decimal) != wanted:
            # Tables in an order that the library cannot follow: what is meant counts for more
            # than how it was laid out.
            text = tomli_w.dumps(wanted, multiline_strings=True)
        return FileText(text)


@lru_cache(maxsize=8)
def _parsed(text: str) -> Data:
    # A desk asks for each of its rows.
    return tomllib.loads(text, parse_float=Decimal)


def _edit_document(document: Any, edit: Edit) -> None:
    import tomlkit

    match edit:
        case SetField(path, None):
            table = _table(document, path[:-1], make=False)
            if table is not None:
                table.pop(path[-1], None)
                _drop_empty(document, path[:-1])
        case SetField(path, value):
            table = document
            for part in path[:-1]:
                if isinstance(part, str) and part not in table:
                    table[part] = tomlkit.table()
                table = table[part]
            table[path[-1]] = _item(value)
        case AddTable(path, index, fields):
            added = tomlkit.table()
            for name, value in fields.items():
                added[name] = _item(value)
            added.add(tomlkit.nl())
            outer = _table(document, path[:-1], make=True)
            if path[-1] not in outer:
                outer[path[-1]] = tomlkit.aot()
            outer[path[-1]].insert(index, added)
        case RemoveTable(path, index):
            outer = _table(document, path[:-1], make=False)
            tables = outer[path[-1]]
            del tables[index]
            if not tables:
                del outer[path[-1]]
        case MoveTable(path, index, to):
            tables = _table(document, path[:-1], make=False)[path[-1]]
            moved = tables[index]
            del tables[index]
            tables.insert(to, moved)


def _item(value: Any) -> Any:
    """``value`` as tomlkit has it; decimals keep their digits."""
    import tomlkit

    if isinstance(value, Decimal):
        return tomlkit.value(f"{value:f}")
    if isinstance(value, list):
        items = tomlkit.array()
        for entry in value:
            items.append(_item(entry))
        return items
    return tomlkit.item(value)
