"""Every field of a plan file: what it means, what is allowed, since which format. Pure.

The words are in ``fields.toml``, everything else comes from the models, so that the page cannot
say anything else than what the reader does.
"""

import textwrap
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any, Literal, get_args, get_origin

from pydantic_core import PydanticUndefined

from coach.plan.course import PhaseRegion
from coach.plan.fields import Checked, Table
from coach.plan.formats import LISTS, NOT_YET, ONLY_1, ONLY_2, TABLES, since
from coach.plan.laser import OutputCheck, Pulsed
from coach.plan.patient import StopRule
from coach.plan.problems import show

# Tables within tables, after the one that they belong to.
_INNER: Mapping[str, Mapping[str, type[Table]]] = {
    "recheck": {"recheck.stop": StopRule},
    "laser": {"laser.pulsed": Pulsed, "laser.output_check": OutputCheck},
    "course": {"course.regions": PhaseRegion},
}
_ORDER = (
    "plan", "dog", "patient", "reason", "recheck", "laser", "course", "settle", "session",
    "limits", "calendar", "scores", "care", "places", "photos", "regions",
)  # fmt: skip
WIDTH = 80


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldPage:
    """One field.

    Attributes:
        table: dotted name of its table.
        name: its name.
        meaning: one sentence.
        allowed: what may stand there.
        default: what holds where it is left out; "" for nothing, None where it must be there.
        example: as a plan file would have it, or "".
        since: first format that has it; ``until``: the last.
        waits: the format has it, this version does not do it yet.
    """

    table: str
    name: str
    meaning: str
    allowed: str
    default: str | None
    example: str
    since: int
    until: int | None
    waits: bool


@cache
def words() -> Mapping[str, Mapping[str, str]]:
    """Meaning of each field by table; of the table itself under ""."""
    return tomllib.loads((files("coach.plan") / "fields.toml").read_text(encoding="utf-8"))


def models() -> Mapping[str, type[Table]]:
    """Every table of a plan file by its dotted name, in the order of the file."""
    found: dict[str, type[Table]] = {}
    for name in _ORDER:
        found[name] = {**TABLES, **LISTS}[name]
        found |= _INNER.get(name, {})
    return found


def field_pages() -> list[FieldPage]:
    """Every field, table by table."""
    return [
        _page(table, model, name)
        for table, model in models().items()
        for name in words()[table]
        if name
    ]


def _page(table: str, model: type[Table], name: str) -> FieldPage:
    info = model.model_fields[name]
    top = table.split(".")[0]
    default = info.default
    if default is PydanticUndefined:
        default = None if info.default_factory is None else ()
    return FieldPage(
        table=table,
        name=name,
        meaning=words()[table][name],
        allowed=_allowed(info.annotation, info.metadata),
        default=None if info.is_required() else _shown(default),
        example=_shown(info.examples[0]) if info.examples else "",
        since=2 if top in ONLY_2 or table == "course.regions" else since(model, name),
        until=1 if top in ONLY_1 else None,
        waits=f"{top}.{name}" in NOT_YET or top in NOT_YET or table in NOT_YET,
    )


def _shown(value: Any) -> str:
    return "" if value in (None, "", [], ()) or isinstance(value, Table) else show(value)


def _allowed(annotation: Any, metadata: Any = ()) -> str:
    """What a type allows, in words."""
    for part in metadata:
        if isinstance(part, Checked):
            return part.allowed
    if hasattr(annotation, "__metadata__"):
        return _allowed(annotation.__origin__, annotation.__metadata__)
    if get_origin(annotation) is Literal:
        return " | ".join(show(value) for value in get_args(annotation))
    if get_origin(annotation) is list:
        inner = get_args(annotation)[0]
        if isinstance(inner, type) and issubclass(inner, Table):
            return "tables"
        return f"a list of: {_allowed(inner)}"
    if isinstance(annotation, type):
        if issubclass(annotation, Table):
            return "a table"
        return _PLAIN.get(annotation.__name__, "")
    options = [_allowed(option) for option in get_args(annotation) if option is not type(None)]
    return " | ".join(filter(None, dict.fromkeys(options)))


_PLAIN = {
    "bool": "true | false",
    "date": "a date: year-month-day",
    "str": "text",
    "int": "a whole number",
    "Decimal": "a number",
}


def reference_lines(table: str | None = None) -> Iterator[str]:
    """The page for the terminal, or the part about one ``table``. KeyError if there is none."""
    chosen = list(models()) if table is None else [table]
    pages = field_pages()
    for name in chosen:
        yield _heading(name)
        yield from textwrap.wrap(words()[name][""], WIDTH)
        for page in pages:
            if page.table == name:
                yield ""
                yield f"  {page.name}{_marks(page)}"
                yield from _indented(page.meaning)
                yield from _indented(_facts(page))
        yield ""


def reference_markdown() -> str:
    """The page as Markdown."""
    lines = [
        "# Fields of a plan file",
        "",
        "Made from the program by `coach check --fields --markdown`; do not edit. A plan begins "
        "with `coach_plan = 2`. Format 1 is still read. Left and right are the dog's. A default is "
        "never a dose.",
    ]
    pages = field_pages()
    for name in models():
        lines += ["", f"## `{_heading(name)}`", "", words()[name][""], ""]
        lines += ["| field | meaning | allowed, default |", "|---|---|---|"]
        lines += [
            f"| `{page.name}`{_marks(page)} | {page.meaning} | {_cell(_facts(page))} |"
            for page in pages
            if page.table == name
        ]
    return "\n".join(lines) + "\n"


def _heading(name: str) -> str:
    many = name in LISTS or name in ("course.regions", "recheck.stop")
    return f"[[{name}]]" if many else f"[{name}]"


def _marks(page: FieldPage) -> str:
    marks = []
    if page.default is None:
        marks.append("must be there")
    if page.until is not None:
        marks.append(f"format {page.until} only")
    elif page.since > 1:
        marks.append("format 2")
    if page.waits:
        marks.append("not done yet")
    return f" ({', '.join(marks)})" if marks else ""


def _facts(page: FieldPage) -> str:
    facts = [page.allowed]
    if page.default:
        facts.append(f"left out: {page.default}")
    elif page.example:
        facts.append(f"such as {page.example}")
    return "; ".join(filter(None, facts))


def _cell(text: str) -> str:
    return text.replace("|", "\\|")


def _indented(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent="    ", subsequent_indent="    ")
