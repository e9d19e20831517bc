"""Finds the line of a field in TOML text. Used only when there is something to report."""

import tomllib
from collections.abc import Iterator

import tree_sitter
import tree_sitter_toml

Path = tuple[str | int, ...]

DEEPEST = 8


def lines_of(text: str) -> dict[Path, int]:
    """Every field path in (valid) TOML ``text`` with its line, from 1.

    Tables count too, and list items are numbered from 0: ``("regions", 0, "sides")``.
    """
    parser = tree_sitter.Parser(tree_sitter.Language(tree_sitter_toml.language()))
    found: dict[Path, int] = {}
    counts: dict[Path, int] = {}

    def note(path: Path, line: int) -> None:
        # ``a.b = 1`` makes the table a as well. No field of a plan lies deeper than this.
        for length in range(1, min(len(path), DEEPEST)):
            found.setdefault(path[:length], line)
        found[path] = line

    for node in parser.parse(text.encode()).root_node.named_children:
        here: Path = ()
        if node.type in ("table", "table_array_element"):
            here = _resolve(_keys(node.named_children[0]), counts)
            if node.type == "table_array_element":
                counts[here] = counts.get(here, -1) + 1
                found.setdefault(here, _line(node))
                here = (*here, counts[here])
            note(here, _line(node))
        pairs = [node] if node.type == "pair" else node.named_children
        for pair in pairs:
            if pair.type == "pair":
                for path, line in _pair(pair, here):
                    note(path, line)
    return found


def line_of(lines: dict[Path, int], path: Path) -> int | None:
    """The line of ``path``, or of the nearest table around it."""
    for length in range(len(path), 0, -1):
        if path[:length] in lines:
            return lines[path[:length]]
    return None


def _pair(pair: tree_sitter.Node, here: Path) -> Iterator[tuple[Path, int]]:
    path = (*here, *_keys(pair.named_children[0]))
    yield path, _line(pair)
    yield from _inside(pair.named_children[1], path)


def _inside(value: tree_sitter.Node, path: Path) -> Iterator[tuple[Path, int]]:
    if value.type == "inline_table":
        for inner in value.named_children:
            if inner.type == "pair":
                yield from _pair(inner, path)
    elif value.type == "array":
        items = [item for item in value.named_children if item.type != "comment"]
        for number, item in enumerate(items):
            yield (*path, number), _line(item)
            yield from _inside(item, (*path, number))


def _keys(node: tree_sitter.Node) -> Path:
    """The parts of a key. Dotted keys nest to the left, as deep as they are long."""
    parts: list[str] = []
    while node.type == "dotted_key":
        node, last = node.named_children[0], node.named_children[-1]
        parts.append(_key(last))
    return (_key(node), *reversed(parts))


def _key(node: tree_sitter.Node) -> str:
    raw = (node.text or b"").decode()
    return next(iter(tomllib.loads(f"{raw} = 0"))) if node.type == "quoted_key" else raw


def _resolve(keys: Path, counts: dict[Path, int]) -> Path:
    """``[regions.x]`` after ``[[regions]]`` means the last of them."""
    path: Path = ()
    for key in keys[:-1]:
        path = (*path, key)
        if path in counts:
            path = (*path, counts[path])
    return (*path, keys[-1])


def _line(node: tree_sitter.Node) -> int:
    return node.start_point[0] + 1
