"""The desk: the plan on one side, the dog and the findings on the other, totals below.

It holds a cursor and what is being typed; everything else is :mod:`coach.plan.desk`.
"""

from collections.abc import Callable
from dataclasses import dataclass

from textual import events
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.message import Message
from textual.reactive import reactive
from textual.screen import Screen
from textual.widget import Widget

from coach.body.regions import regions
from coach.plan.desk import DOSE, Desk, Sheet
from coach.plan.problems import Path, dotted
from coach.screens.desk.desk_rows import Row, desk_rows
from coach.screens.desk.desk_text import dog_picture, order_lines, remarks, totals_lines
from coach.screens.dog_picture import Dog, look_of
from coach.screens.key_bar import Keys
from coach.screens.key_bar_layout import TALL, Tap, fitting, flow, rows_of
from coach.screens.layout_rows import ROOMY_ROWS
from coach.screens.messages import Asked
from coach.screens.text_block import Sign
from coach.screens.themes import LOOKS

# From here on the dog stands beside the plan; below, one of them is shown at a time.
BESIDE_COLUMNS = 100
PANES = ("plan", "dog", "findings")
LABEL_COLUMNS = 22
TOTALS_ROWS = 3
# A new plan has no text in it: what the bar calls it.
UNNAMED = "new plan"

# Id, keys, label; the id is what a tap asks for.
ACTIONS: tuple[tuple[str, str, str, bool], ...] = (
    ("edit", "enter", "ENTER type", True),
    ("region", "ctrl+n", "^N region", True),
    ("dose", "f5", "F5 next dose", False),
    ("copy", "ctrl+d", "^D copy", False),
    ("both", "ctrl+b", "^B both sides", False),
    ("up", "ctrl+up", "^UP earlier", False),
    ("down", "ctrl+down", "^DOWN later", False),
    ("remove", "delete", "DEL remove", False),
    ("undo", "ctrl+z", "^Z undo", True),
    ("redo", "ctrl+y", "^Y redo", False),
    ("turn", "f2", "F2 turn the dog", False),
    ("pane", "f3", "F3 plan, dog, findings", True),
    ("look", "f4", "F4 colours", False),
    ("save", "ctrl+s", "^S save", True),
    ("leave", "ctrl+q", "^Q leave", True),
)
KEYS = {key: name for name, key, _, _ in ACTIONS} | {
    "up": "before",
    "down": "next",
    "shift+tab": "section_before",
    "tab": "section_next",
    "pageup": "page_up",
    "pagedown": "page_down",
    "home": "first",
    "end": "last",
    "escape": "cancel",
    "ctrl+c": "leave",
}


class RowTapped(Message):
    """Row ``index`` was tapped."""

    def __init__(self, index: int) -> None:
        super().__init__()
        self.index = index


@dataclass(frozen=True, slots=True)
class Shown:
    """What the list of rows shows: the rows, the cursor, and what is being typed into its row."""

    rows: tuple[Row, ...]
    cursor: int
    typed: str | None


class RowList(Widget, inherit_bindings=False):
    """The rows around the cursor, as many as fit."""

    ALLOW_SELECT = False
    shown: reactive[Shown] = reactive(Shown((), 0, None))

    def first(self) -> int:
        """The number of the row at the top."""
        height = max(1, self.size.height)
        last = max(0, len(self.shown.rows) - height)
        return max(0, min(last, self.shown.cursor - height // 2))

    def render(self) -> Content:
        """The rows."""
        first = self.first()
        rows = self.shown.rows[first : first + max(1, self.size.height)]
        lines = [
            _line(
                row, self.size.width, self.shown.typed if at == self.shown.cursor else None
            ).stylize("reverse" if at == self.shown.cursor and self.shown.typed is None else "")
            for at, row in enumerate(rows, start=first)
        ]
        return Content("\n").join(lines)

    def on_click(self, event: events.Click) -> None:
        """A tap."""
        event.stop()
        index = self.first() + event.y
        if index < len(self.shown.rows):
            self.post_message(RowTapped(index))


def _line(row: Row, width: int, typed: str | None) -> Content:
    match row.kind:
        case "section":
            return Content.styled(row.label, "bold $region")
        case "region" | "phase":
            mark = "  copied: look at it" if row.copied else ""
            return Content.assemble((f" {row.label}", "bold $side"), (mark, "bold $countdown"))
        case "more":
            return Content.styled(f"   + {row.label}"[:width], "$quiet")
        case "add region" | "add phase" if typed is None:
            return Content.styled(f"   + {row.label}"[:width], "$side")
    label = f"   {row.label}"[: LABEL_COLUMNS - 1].ljust(LABEL_COLUMNS)
    room = max(4, width - LABEL_COLUMNS)
    if typed is not None:
        # The end of a long text is where somebody types.
        return Content.assemble(label, (f"{typed[-room + 1 :]}▏", "bold $countdown"))
    if row.needed:
        return Content.assemble(label, ("needed", "$region"))
    if row.problem:
        text = f"{row.text} ! {row.problem}"
        return Content.assemble(label, (text[:room], "bold $countdown"))
    return Content.assemble(label, row.text[:room])


class DeskScreen(Screen[bool], inherit_bindings=False):
    """The whole desk.

    ``autosave`` gets the text after each change; ``save`` keeps the plan and gives a sentence.
    Left with True when everything is saved.
    """

    ALLOW_SELECT = False
    AUTO_FOCUS = ""
    CSS_PATH = "desk.tcss"

    def __init__(
        self,
        desk: Desk,
        *,
        autosave: Callable[[Desk], str] = lambda desk: "",
        save: Callable[[Desk], str] = lambda desk: "",
        message: str = "",
    ) -> None:
        super().__init__()
        self.desk = desk
        self.sheet: Sheet = desk.sheet()
        self.rows: list[Row] = []
        self.cursor = 0
        self.typed: str | None = None
        self.message = message
        self._autosave, self._save = autosave, save
        self._saved_text = desk.text
        self._opened: frozenset[str] = frozenset()
        self._turn = 0
        self._pane = 0
        self._sure = False
        self._bar = Sign("bar")
        self._list = RowList(id="rows")
        self._dog = Dog(asks="turn")
        self._remarks = Sign("remarks")
        self._totals = Sign("totals")
        self._help = Sign("help")
        self._keys = Keys(id="keys")

    def compose(self) -> ComposeResult:
        """Bar, plan and dog, totals, keys."""
        yield self._bar
        with Horizontal(id="page"):
            yield self._list
            with Vertical(id="beside"):
                yield self._dog
                yield self._remarks
        yield self._help
        yield self._totals
        yield self._keys

    def on_mount(self) -> None:
        """Begin at the first field that needs an answer."""
        self._read()
        needed = (at for at, row in enumerate(self.rows) if row.needed)
        self.cursor = next(needed, 1)
        self.draw()

    def on_resize(self) -> None:
        """Lay out anew."""
        self.draw()

    # What the keys do

    async def on_key(self, event: events.Key) -> None:
        """Every key: an action, or a letter that is typed."""
        event.stop()
        event.prevent_default()
        if self.typed is not None and self._type_on(event):
            return
        name = KEYS.get(event.key)
        if name is not None:
            self.act(name)
        elif event.character is not None and event.is_printable:
            self._begin(event.character)

    def on_asked(self, message: Asked) -> None:
        """A tap on a key or on the dog."""
        message.stop()
        self.act(message.id)

    def on_row_tapped(self, message: RowTapped) -> None:
        """A tap on a row: go there; a second one types."""
        message.stop()
        if message.index == self.cursor:
            self.act("edit")
        else:
            self._take()
            self._go(message.index)
        self.draw()

    def _type_on(self, event: events.Key) -> bool:
        """One more key of what is being typed; whether it was one."""
        assert self.typed is not None
        if event.key == "backspace":
            self.typed = self.typed[:-1]
        elif event.key == "ctrl+u":
            self.typed = ""
        elif event.key == "escape":
            self.typed = None
        elif event.key == "enter":
            self._take()
            self._go(self._next_field())
        elif event.character is not None and event.is_printable:
            self.typed += event.character
        else:
            # Any other key ends it.
            self._take()
            return False
        self.draw()
        return True

    def _begin(self, character: str) -> None:
        """Type over what stands in the row under the cursor; or step a number."""
        row = self.rows[self.cursor]
        if row.kind == "field" and character in "+-" and row.text and _is_number(row.text):
            self.desk.step(row.path, 1 if character == "+" else -1)
            self._changed()
        elif row.kind in ("field", "add region", "add phase"):
            self.typed = character
        self.draw()

    def act(self, name: str) -> None:
        """Do what a key or a tap asks."""
        sure, self._sure, self.message = self._sure, False, ""
        if name not in ("edit", "cancel"):
            self._take()
        row = self.rows[self.cursor]
        region = self._region()
        match name:
            case "edit":
                self._edit(row)
            case "before" | "next":
                self._go(self.cursor + (1 if name == "next" else -1))
            case "page_up" | "page_down":
                step = max(1, self._list.size.height - 2)
                self._go(self.cursor + (step if name == "page_down" else -step))
            case "first" | "last":
                self._go(0 if name == "first" else len(self.rows) - 1)
            case "section_before" | "section_next":
                self._go(self._section(1 if name == "section_next" else -1))
            case "region":
                self._go(next(n for n, row in enumerate(self.rows) if row.kind == "add region"))
                self.typed = ""
            case "dose":
                self._go(self._next_dose())
            case "copy" if region is not None:
                self._at(("regions", self.desk.copy_region(region)))
            case "both" if region is not None:
                self.desk.both_sides(region)
                self._changed()
            case "up" | "down" if region is not None:
                to = self.desk.move_region(region, region + (1 if name == "down" else -1))
                self._at(("regions", to))
            case "remove":
                self._remove(row)
            case "undo" | "redo":
                done = self.desk.undo() if name == "undo" else self.desk.redo()
                self.message = "" if done else f"nothing to {name}"
                self._changed()
            case "turn":
                self._turn += 1
            case "pane":
                self._pane = (self._pane + 1) % len(PANES)
            case "look":
                self.app.theme = LOOKS[(LOOKS.index(self.app.theme) + 1) % len(LOOKS)]
            case "save":
                self.save()
            case "leave":
                self._leave(sure)
                return
        self.draw()

    def _edit(self, row: Row) -> None:
        if row.kind == "more":
            self._opened ^= {dotted(row.path)}
            self._read()
        elif row.kind in ("section", "region", "phase"):
            self._go(self.cursor + 1)
        else:
            self.typed = row.text

    def _take(self) -> None:
        """What was typed goes into the plan."""
        if self.typed is None:
            return
        row, typed, self.typed = self.rows[self.cursor], self.typed, None
        if row.kind == "field":
            self.desk.type(row.path, typed)
            self._changed()
        elif typed.strip() and row.kind == "add region":
            # On to its sides: the name is what was just typed.
            self._at(("regions", self.desk.add_region(typed), "region"))
        elif typed.strip():
            self._at(("course", self.desk.add_phase(typed.strip()), "name"))

    def _remove(self, row: Row) -> None:
        region = self._region()
        if row.kind == "region" and region is not None:
            self.desk.remove_region(region)
        elif row.kind == "phase" and isinstance(row.path[1], int):
            self.desk.remove_phase(row.path[1])
        elif row.kind == "field":
            self.desk.type(row.path, "")
        self._changed()

    def _leave(self, sure: bool) -> None:
        if self.desk.text == self._saved_text or sure:
            self.dismiss(self.desk.text == self._saved_text)
            return
        self._sure = True
        self.message = "Not saved. ^S saves. ^Q again leaves; the draft is kept."
        self.draw()

    def save(self) -> None:
        """Keep the plan where it belongs."""
        self.message = self._save(self.desk)
        if self.message.startswith("Saved"):
            self._saved_text = self.desk.text

    # Where it is

    def _region(self) -> int | None:
        """The number of the region under the cursor, from 0."""
        path = self.rows[self.cursor].path
        number = path[1] if len(path) > 1 and path[0] == "regions" else None
        return number if isinstance(number, int) else None

    def _section(self, step: int) -> int:
        """The first row of the section after or before this one."""
        at = self.cursor + step
        while 0 <= at < len(self.rows) and self.rows[at].kind != "section":
            at += step
        return at

    def _next_dose(self) -> int:
        """The dose of the next region, from the first again after the last."""
        doses = [at for at, row in enumerate(self.rows) if row.path[-1:] == (DOSE,)]
        return next((at for at in doses if at > self.cursor), doses[0] if doses else self.cursor)

    def _next_field(self) -> int:
        """The next row that can be typed into: a plan is typed with Enter alone."""
        typed = ("field", "add region", "add phase")
        after = range(self.cursor + 1, len(self.rows))
        return next((at for at in after if self.rows[at].kind in typed), self.cursor)

    def _go(self, to: int) -> None:
        self.cursor = max(0, min(len(self.rows) - 1, to))
        region = self._region()
        if region is not None and self.rows[self.cursor].path[-1] == DOSE:
            # Whoever is at the dose of a copied region has seen it.
            self.desk.looked_at(region)
            self._read()

    def _at(self, path: Path) -> None:
        """Go to the row of ``path``, after a change."""
        self._changed()
        found = (at for at, row in enumerate(self.rows) if row.path == path)
        self.cursor = next(found, self.cursor)

    def _changed(self) -> None:
        self.sheet = self.desk.sheet()
        problem = self._autosave(self.desk)
        self.message = problem or self.message
        self._read()

    def _read(self) -> None:
        self.rows = desk_rows(self.desk, self.sheet, self._opened)
        self.cursor = max(0, min(len(self.rows) - 1, self.cursor))

    # What is seen

    def draw(self) -> None:
        """Put everything into the widgets."""
        if not self.rows:
            return
        width, height = self.size
        row = self.rows[self.cursor]
        self._bar.show((self._title()[:width],))
        self._totals.show(
            tuple(totals_lines(self.desk, self.sheet, row.path, width=width))[:TOTALS_ROWS]
        )
        self._help.show(((self.message or row.problem or row.meaning)[:width],))
        tall = height >= ROOMY_ROWS + 10
        taps = [
            Tap(id=name, key=label.split()[0], label=label.partition(" ")[2], vital=vital)
            for name, _, label, vital in ACTIONS
        ]
        key_rows = min(2, rows_of(flow(taps, width=width, tall=tall)))
        placed = fitting(taps, width=width, rows=key_rows, tall=tall)
        used = rows_of(placed) * (TALL if tall else 1)
        self._keys.show(placed, tall=tall, rows=used)
        room = height - 1 - 1 - TOTALS_ROWS - used
        beside = width >= BESIDE_COLUMNS
        pane = PANES[self._pane]
        columns = width // 2 if beside else width
        self._list.display = beside or pane == "plan"
        self._list.styles.width = columns if beside else width
        self._list.shown = Shown(tuple(self.rows), self.cursor, self.typed)
        other = width - columns - 1 if beside else width
        notes = self._notes(pane, beside, other, room)
        self._remarks.show(tuple(notes))
        drawing = None
        if beside or pane == "dog":
            rows = room - len(notes) - (1 if beside else 0)
            drawing = dog_picture(
                self.sheet,
                self._region_key(),
                self._turn,
                width=other,
                height=rows,
                look=look_of(self.app.theme),
            )
        self._dog.show(drawing)

    def _notes(self, pane: str, beside: bool, width: int, height: int) -> list[str]:
        if beside:
            return remarks(self.sheet, width=width, height=max(4, height // 3))
        if pane == "findings":
            lines = remarks(self.sheet, width=width, height=max(1, height // 2))
            return [*lines, "", *order_lines(self.sheet)][:height]
        return []

    def _region_key(self) -> str:
        region = self._region()
        key = "" if region is None else str(self.desk.regions[region].get("region", ""))
        return key if key in regions() else ""

    def _title(self) -> str:
        desk = self.desk
        name = desk.value(("plan", "id")) or UNNAMED
        dog = desk.value(("dog", "name")) or "?"
        state = "saved" if desk.text == self._saved_text else "not saved, the draft is kept"
        return f"DESK  {name}, revision {desk.value(('plan', 'revision'))}, {dog}: {state}"


def _is_number(text: str) -> bool:
    return text.replace(".", "", 1).isdigit()
