"""Finds every text for the owner and brings the catalogues up to date.

    python -m tests.messages          new texts in, texts that are gone out, German kept
    python -m tests.messages missing  only tell which texts have no German yet

A text is the literal in ``_("...")``, ``N_("...")`` or ``ngettext("...", "...", n)`` anywhere under
``coach``, or a text of a region.
"""

import ast
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import polib

import coach
from coach.body import regions

ROOT = Path(coach.__file__).parent
CATALOGUES = ROOT / "messages"
REGION_FILE = "body/regions.toml"


@dataclass(frozen=True, slots=True)
class Message:
    """A text, in the singular and, where a number decides, in the plural; where it stands."""

    text: str
    many: str
    file: str


class NotLiteralError(ValueError):
    """Something else than a literal is marked as a text."""


def in_code(source: str, *, file: str) -> Iterator[Message]:
    """Every text marked in ``source``. Raises NotLiteralError with file and line."""
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Name):
            continue
        name = node.func.id
        if name not in ("_", "N_", "ngettext"):
            continue
        texts = [_literal(part, file) for part in node.args[: 2 if name == "ngettext" else 1]]
        if name == "_" and texts == [None]:
            # A constant that is marked where it is written.
            continue
        if None in texts or not texts:
            raise NotLiteralError(f"{file}, line {node.lineno}: {name}() marks no literal")
        first, *second = (text for text in texts if text is not None)
        yield Message(first, second[0] if second else "", file)


def _literal(node: ast.expr, file: str) -> str | None:
    if isinstance(node, ast.JoinedStr | ast.BinOp):
        raise NotLiteralError(f"{file}, line {node.lineno}: a text is put together too early")
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    return None


def of_regions() -> Iterator[Message]:
    """Every text of a region that :func:`coach.body.told` translates."""
    for place in regions().values():
        texts = (place.term, place.owner_words, place.spoken, place.block, place.feel, place.hold)
        for text in (*texts, *place.cautions):
            yield Message(text, "", REGION_FILE)


@cache
def every_message() -> dict[str, list[Message]]:
    """All texts by their (singular) English form."""
    found: dict[str, list[Message]] = {}
    messages = list(of_regions())
    for path in sorted(ROOT.rglob("*.py")):
        file = path.relative_to(ROOT).as_posix()
        messages += in_code(path.read_text(encoding="utf-8"), file=file)
    for message in messages:
        if message.text:
            found.setdefault(message.text, []).append(message)
    return found


def catalogue(code: str) -> polib.POFile:
    """The catalogue of a language as it is on disk."""
    return polib.pofile(str(CATALOGUES / f"{code}.po"), wrapwidth=96)


def brought_up(code: str) -> polib.POFile:
    """The catalogue of ``code`` with every text of today and no other, sorted."""
    before = {entry.msgid: entry for entry in catalogue(code)}
    after = polib.POFile(wrapwidth=96)
    after.metadata = catalogue(code).metadata
    after.header = catalogue(code).header
    for text, places in sorted(every_message().items()):
        many = next((place.many for place in places if place.many), "")
        known = before.get(text)
        kept = known if known is not None and known.msgid_plural == many else None
        entry = polib.POEntry(
            msgid=text, occurrences=[(file, "") for file in sorted({p.file for p in places})]
        )
        if many:
            entry.msgid_plural = many
            entry.msgstr_plural = kept.msgstr_plural if kept else {0: "", 1: ""}
        else:
            entry.msgstr = kept.msgstr if kept else ""
        after.append(entry)
    return after


def untranslated(entries: polib.POFile) -> list[str]:
    """The texts without a translation."""
    return [entry.msgid for entry in entries if not entry.translated()]


def main(arguments: list[str]) -> None:
    """Bring every catalogue up to date, and tell what is missing."""
    for path in sorted(CATALOGUES.glob("*.po")):
        fresh = brought_up(path.stem)
        if arguments != ["missing"]:
            fresh.save(str(path))
        for text in untranslated(fresh):
            print(f"{path.stem}: {text!r}")


if __name__ == "__main__":
    main(sys.argv[1:])
