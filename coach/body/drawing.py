"""The dog as rows of characters, with the spots on it. Colour is a hint; shape tells the state.

``draw_dog`` gives text with roles; what a role looks like is up to the screens:

    far, outline, feature   the dog
    region                  the line along which the spots lie
    done, coming            spots given, spots to come (one sign each)
    current, number         the spot now (a block of 5 x 3 or more), and its number in it
    label                   words: where the head is, which side is which
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby

from coach.body.outline import Box, Path, Point, View, along, outline
from coach.body.places import is_own
from coach.body.raster import BLANK, Canvas, Cell, Look
from coach.body.regions import Side
from coach.body.regions import region as region_of
from coach.body.site import Face
from coach.body.spread import places
from coach.language import _, language

ROLES = ("far", "feature", "outline", "region")

# Below this size the region's own box is drawn instead of the whole dog: at 40 x 12 the tail
# base and the hip would share a cell.
WHOLE_DOG_CELLS = (70, 20)

SIGNS: dict[Look, dict[str, str]] = {
    "colour": {"done": "✓", "coming": "○"},
    "console": {"done": "*", "coming": "o"},
}
BLOCKS: dict[Look, tuple[str, ...]] = {
    "colour": ("▄███▄", "█████", "▀███▀"),
    "console": (" ### ", "#####", " ### "),
}
POINTERS: dict[Look, tuple[str, str]] = {"colour": ("◀", "▶"), "console": ("<", ">")}


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One spot to draw: the ``number``-th of ``of`` along its region, side and aspect."""

    region: str
    side: Side
    aspect: str | None = None
    number: int = 1
    of: int = 1

    @property
    def face(self) -> Face:
        """Along which row it lies."""
        return Face(self.region, self.side, self.aspect)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tag:
    """A few characters to write where ``mark`` is, or as near to it as there is room."""

    mark: Mark
    text: str


@dataclass(frozen=True, slots=True)
class Run:
    """Characters of one role; "" is blank."""

    text: str
    role: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """Rows of runs; every row is ``width`` characters long."""

    width: int
    height: int
    rows: tuple[tuple[Run, ...], ...]

    def text(self) -> str:
        """All rows as plain text, without trailing blanks."""
        return "\n".join("".join(run.text for run in row).rstrip() for row in self.rows)


def facing_side(side: Side, aspect: str | None) -> Side:
    """The side of the dog to look at: an inner face is seen on the leg that lies below."""
    if aspect == "medial":
        return "right" if side == "left" else "left"
    return "right" if side == "right" else "left"


def draw_dog(
    *,
    width: int,
    height: int,
    look: Look,
    view: View = "side",
    side: Side = "left",
    region: str | None = None,
    aspect: str | None = None,
    done: Iterable[Mark] = (),
    current: Mark | None = None,
    coming: Iterable[Mark] = (),
    tags: Iterable[Tag] = (),
) -> Drawing:
    """The dog in ``width`` x ``height`` cells.

    Args:
        width: columns, >= 1.
        height: rows, >= 1.
        look: ``colour`` (braille and blocks) or ``console`` (ASCII only).
        view: ``side`` or ``top``.
        side: the dog's side that is worked on; the side view shows the dog from there.
        region: region key: its line is shown, and on small sizes its box is zoomed to.
        aspect: face of a joint, or None for an axial region.
        done: spots given.
        current: the spot now.
        coming: spots to come.
        tags: words at places; those on the side that is turned away are left out.

    Spots on the side that is turned away are left out; the current spot is always drawn, and its
    neighbours are moved along the line as far as it takes to see them beside it.

    Raises:
        ValueError: size under 1, or a region, side and aspect that have no line in this view.
    """
    if width < 1 or height < 1:
        raise ValueError(f"size: {width} x {height} found; allowed: 1 x 1 or more")
    scene = _Scene(
        width=width,
        height=height,
        look=look,
        view=view,
        facing=facing_side(side, aspect),
        region=region,
        side=side,
        aspect=aspect,
    )
    base = _base(scene, language())
    # Only rows with spots on them are put together anew: a redraw must not cost the countdown.
    cells: dict[int, list[Cell]] = {}

    def put(place: tuple[int, int], cell: Cell) -> None:
        column, row = place
        cells.setdefault(row, list(base.cells[row]))[column] = cell

    marks = [(mark, "done") for mark in done] + [(mark, "coming") for mark in coming]
    taken: set[tuple[int, int]] = set()
    if current is not None:
        for place, cell in _block(scene, current):
            put(place, cell)
            taken.add(place)
        # From the current spot outwards, so that each gives way to the one before it.
        marks.sort(key=lambda entry: abs(entry[0].number - current.number))
    for mark, state in marks:
        beside = _place_beside(scene, mark, current, taken)
        if beside is not None:
            put(beside, (SIGNS[look][state], state))
            taken.add(beside)
    for tag in tags:
        for beside, sign in _written(scene, tag, taken):
            put(beside, (sign, "label"))
            taken.add(beside)
    rows = tuple(
        _runs(cells[number]) if number in cells else runs for number, runs in enumerate(base.runs)
    )
    return Drawing(width=width, height=height, rows=rows)


def view_of(key: str) -> View:
    """The view that shows a region best: the spine from above, neck and limbs from the side."""
    return "top" if "middle" in region_of(key).sides and not is_own(key) else "side"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scene:
    """All that the dog without its spots depends on."""

    width: int
    height: int
    look: Look
    view: View
    facing: Side
    region: str | None
    side: Side
    aspect: str | None

    def whole(self) -> bool:
        return self.width >= WHOLE_DOG_CELLS[0] and self.height >= WHOLE_DOG_CELLS[1]

    def box(self) -> Box:
        box = outline().zoom(self.view, None if self.whole() else self.region)
        if self.mirrored():
            return 1 - box[2], box[1], 1 - box[0], box[3]
        return box

    def mirrored(self) -> bool:
        return self.view == "side" and self.facing == "right"

    def path_of(self, key: str, side: Side, aspect: str | None) -> tuple[Path, bool]:
        """The line of a region as this scene shows it, and whether the body hides it."""
        if self.mirrored() and side != "middle":
            side = "left" if side == "right" else "right"
        try:
            found = outline().path(key, self.view, side, aspect)
        except KeyError:
            raise ValueError(f"no line for {key}, {side}, {aspect or 'no aspect'}") from None
        return found.path, found.visible


def _to_dots(scene: _Scene, columns: int, rows: int, path: Path) -> tuple[Path, float]:
    """Points in dots of a canvas of ``columns`` x ``rows`` square dots, and dots a unit."""
    left, bottom, right, top = scene.box()
    # The last row is for words, and for the lower part of a block on a foot.
    rows -= rows // scene.height
    scale = min(columns / (right - left), rows / (top - bottom))
    offset_x = (columns - scale * (right - left)) / 2
    offset_y = (rows - scale * (top - bottom)) / 2
    flip = scene.mirrored()
    return tuple(
        (
            offset_x + ((1 - x if flip else x) - left) * scale,
            rows - offset_y - (y - bottom) * scale,
        )
        for x, y in path
    ), scale


@dataclass(frozen=True, slots=True)
class _Base:
    """The dog without its spots."""

    cells: tuple[tuple[Cell, ...], ...]
    runs: tuple[tuple[Run, ...], ...]


@lru_cache(maxsize=16)
def _base(scene: _Scene, _language: str) -> _Base:
    # The language is part of what is kept, because the labels are in it.
    canvas = Canvas(width=scene.width, height=scene.height, look=scene.look, roles=ROLES)

    def dots(path: Path) -> Path:
        return _to_dots(scene, canvas.columns, canvas.rows, path)[0]

    _, unit_dots = _to_dots(scene, canvas.columns, canvas.rows, ())
    dog = outline().views[scene.view]
    for shape in dog.silhouette:
        polygon = dots(shape.points)
        canvas.erase(polygon)
        canvas.lines(polygon, "outline" if shape.layer else "far", closed=True)
    for feature in dog.features:
        if feature.min_dots <= unit_dots * 2 / canvas.dots_x:
            canvas.lines(dots(feature.points), "feature")
    if dog.eye is not None:
        (eye,) = dots((dog.eye,))
        canvas.line(eye, eye, "outline")
    if scene.region is not None:
        path, _ = scene.path_of(scene.region, scene.side, scene.aspect)
        thick = ((0, 0), (0, 1), (1, 0)) if scene.look == "colour" else ((0, 0),)
        for x, y in thick:
            canvas.lines(tuple((px + x, py + y) for px, py in dots(path)), "region")
    cells = canvas.cells()
    for text, column, row in _labels(scene):
        _write(cells, text, column, row)
    return _Base(tuple(tuple(row) for row in cells), tuple(_runs(row) for row in cells))


def _labels(scene: _Scene) -> list[tuple[str, int, int]]:
    before, after = POINTERS[scene.look]
    front, back = _("head"), _("tail")
    head, tail = f"{before} {front}", f"{back} {after}"
    if scene.mirrored():
        head, tail = f"{front} {after}", f"{before} {back}"
        return [
            (tail, 0, scene.height - 1),
            (head, scene.width - len(head), scene.height - 1),
        ]
    found = [(head, 0, scene.height - 1), (tail, scene.width - len(tail), scene.height - 1)]
    if scene.view == "top":
        for words, row in ((_("dog's right"), 0), (_("dog's left"), scene.height - 1)):
            found.append((words, (scene.width - len(words)) // 2, row))
    return found


def _write(cells: list[list[Cell]], text: str, column: int, row: int) -> None:
    for offset, sign in enumerate(text):
        if 0 <= column + offset < len(cells[row]):
            cells[row][column + offset] = (sign, "label")


def _cell_of(scene: _Scene, spot: Point) -> tuple[int, int]:
    """Column and row of the cell that holds a point of the outline."""
    # Two by four dots a cell are square dots; any canvas of square dots would do.
    (dot,), _ = _to_dots(scene, scene.width * 2, scene.height * 4, (spot,))
    return int(dot[0] // 2), int(dot[1] // 4)


def _place(scene: _Scene, mark: Mark) -> tuple[int, int]:
    path, _ = scene.path_of(mark.region, mark.side, mark.aspect)
    return _cell_of(scene, along(path, places(mark.of)[mark.number - 1]))


def _inside(scene: _Scene, place: tuple[int, int]) -> bool:
    return 0 <= place[0] < scene.width and 0 <= place[1] < scene.height


def _place_beside(
    scene: _Scene, mark: Mark, current: Mark | None, taken: set[tuple[int, int]]
) -> tuple[int, int] | None:
    """A free cell for ``mark``, or None when it cannot be seen or is hidden."""
    path, visible = scene.path_of(mark.region, mark.side, mark.aspect)
    if not visible:
        return None
    column, row = _place(scene, mark)
    neighbour = current is not None and mark.face == current.face
    if current is not None and neighbour and mark.number != current.number:
        start, end = _cell_of(scene, path[0]), _cell_of(scene, path[-1])
        ahead = 1 if mark.number > current.number else -1
        across = (ahead if end[0] >= start[0] else -ahead, 0)
        down = (0, ahead if end[1] >= start[1] else -ahead)
        # Rows are twice as high as columns are wide. At an edge only the other way is left.
        level = abs(end[0] - start[0]) >= 2 * abs(end[1] - start[1])
        for step in (across, down) if level else (down, across):
            place = (column, row)
            while place in taken:
                place = place[0] + step[0], place[1] + step[1]
            if _inside(scene, place):
                return place
    if (column, row) in taken or not _inside(scene, (column, row)):
        return None
    return column, row


def _written(
    scene: _Scene, tag: Tag, taken: set[tuple[int, int]]
) -> list[tuple[tuple[int, int], str]]:
    """Where the characters of ``tag`` go: the nearest row with room, or nowhere."""
    _, visible = scene.path_of(tag.mark.region, tag.mark.side, tag.mark.aspect)
    if not visible:
        return []
    column, row = _place(scene, tag.mark)
    start = max(0, min(column - len(tag.text) // 2, scene.width - len(tag.text)))
    rows = sorted(range(scene.height), key=lambda other: (abs(other - row), other))
    for other in rows:
        # A blank on each side, so that two tags never become one.
        if any((x, other) in taken for x in range(start - 1, start + len(tag.text) + 1)):
            continue
        return [((start + x, other), sign) for x, sign in enumerate(tag.text)]
    return []


def _block(scene: _Scene, mark: Mark) -> list[tuple[tuple[int, int], Cell]]:
    """The block of the current spot with its number and the blanks that set it apart."""
    column, row = _place(scene, mark)
    found = {
        (x, y): (sign, "current") if sign != " " else BLANK
        for y, line in enumerate(BLOCKS[scene.look], start=row - 1)
        for x, sign in enumerate(f" {line} ", start=column - 3)
    }
    number = str(mark.number)
    for x, sign in enumerate(number, start=column - len(number) // 2):
        found[x, row] = (sign, "number")
    return [(place, cell) for place, cell in found.items() if _inside(scene, place)]


def _runs(row: Sequence[Cell]) -> tuple[Run, ...]:
    return tuple(
        Run("".join(sign for sign, _ in cells), role)
        for role, cells in groupby(row, key=lambda cell: cell[1])
    )
