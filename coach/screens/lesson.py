"""The lesson with the laser off: each region of the plan with its words, its picture and a try."""

import textwrap
from collections.abc import Callable, Sequence

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Horizontal
from textual.screen import ModalScreen

from coach.bedside.flow import Pressed
from coach.bedside.lesson_pages import Meeting, first_lines, lesson_lines, meetings
from coach.body.drawing import Drawing, Mark, draw_dog, view_of
from coach.body.raster import Look
from coach.language import _
from coach.plan.spots import Spot
from coach.screens.dog_picture import Dog, look_of
from coach.screens.key_bar import Keys
from coach.screens.key_bar_layout import TALL, Tap, fitting, flow, rows_of
from coach.screens.key_debounce import OnePress
from coach.screens.layout_rows import ROOMY_ROWS
from coach.screens.messages import Asked
from coach.screens.text_block import Sign

# From here on the picture stands beside the words.
BESIDE_COLUMNS = 100
WORDS_COLUMNS = 50
LEAST_PICTURE = 6


def region_picture(meeting: Meeting, *, width: int, height: int, look: Look) -> Drawing:
    """The region with its first side as the current spot and the plan's others to come."""

    aspect = meeting.aspects[0] if meeting.aspects else None

    def mark(side_number: int) -> Mark:
        return Mark(region=meeting.region, side=meeting.sides[side_number], aspect=aspect)

    return draw_dog(
        width=width,
        height=height,
        look=look,
        view=view_of(meeting.region),
        side=meeting.sides[0],
        region=meeting.region,
        aspect=aspect,
        current=mark(0),
        coming=[mark(number) for number in range(1, len(meeting.sides))],
    )


class LessonScreen(ModalScreen[Pressed], inherit_bindings=False):
    """Gives the key ``on`` when all pages were read, ``leave`` when the lesson was left."""

    ALLOW_SELECT = False
    AUTO_FOCUS = ""
    BINDINGS = [  # noqa: RUF012  (the framework's own form)
        Binding("space,enter,pagedown,right,down", "on", id="one_key"),
        Binding("b,backspace,left,pageup,up", "back", id="lesson_back"),
        Binding("q,escape,ctrl+q,ctrl+c", "leave", id="lesson_leave"),
    ]

    def __init__(
        self,
        dog: str,
        spots: Sequence[Spot],
        *,
        mono_ns: Callable[[], int],
        say: Callable[[str], None] | None = None,
    ) -> None:
        super().__init__()
        self._whose = dog
        self._meetings = meetings(spots)
        self._say = say
        self._at = 0
        self._hand = OnePress(self._do, mono_ns=mono_ns, later=self.set_timer)
        self._left = False
        self._bar = Sign("bar")
        self._words = Sign("lines")
        self._dog = Dog(asks="on")
        self._keys = Keys(id="keys")

    def compose(self) -> ComposeResult:
        """From top to bottom."""
        yield self._bar
        with Horizontal(id="lesson"):
            yield self._words
            yield self._dog
        yield self._keys

    def on_mount(self) -> None:
        """Say the first page."""
        self._tell()

    def on_resize(self) -> None:
        """The same page in another size."""
        self.draw()

    def action_on(self) -> None:
        """The place is found: the next page."""
        self._hand.press("on")

    def action_back(self) -> None:
        """The page before."""
        self._hand.press("back")

    def action_leave(self) -> None:
        """Enough of it."""
        self._hand.press("leave")

    def beat(self) -> None:
        """A press that waited to be told from a key held down."""
        self._hand.beat()

    def _do(self, id: str, _at_ns: int) -> None:  # noqa: A002
        if id == "leave":
            self._done("leave")
        elif id == "on" and self._at == len(self._meetings):
            self._done("on")
        else:
            self._at = self._at + 1 if id == "on" else max(0, self._at - 1)
            self._tell()

    def _done(self, key: str) -> None:
        if self._left:
            return
        self._left = True
        if self._say is not None:
            self._say("")
        self.dismiss(Pressed(key))

    def on_asked(self, message: Asked) -> None:
        """A tap."""
        message.stop()
        self._hand.press(message.id)

    @property
    def _meeting(self) -> Meeting | None:
        return self._meetings[self._at - 1] if self._at else None

    def _lines(self) -> tuple[str, ...]:
        meeting = self._meeting
        if meeting is None:
            return first_lines(self._whose, len(self._meetings))
        return lesson_lines(meeting)

    def _tell(self) -> None:
        if self._say is not None:
            self._say(" ".join((*self._lines(), *self._keys_aloud())))
        self.draw()

    def _keys_aloud(self) -> tuple[str, ...]:
        if self._meeting is not None:
            return (_("Press the big key when you have found it."),)
        return (
            _("In a session the big key starts, pauses and carries on."),
            _("Two quick presses of it give you all choices."),
            _("Press the big key to begin. Q leaves the lesson."),
        )

    def draw(self) -> None:
        """Put the page into the widgets."""
        width, height = self.size
        if not width:
            return
        meeting = self._meeting
        tall = height >= ROOMY_ROWS
        label = _("begin") if meeting is None else _("I have found it")
        taps = (
            Tap(id="on", key=_("SPACE"), label=label, vital=True),
            Tap(id="back", key="B", label=_("back")),
            Tap(id="leave", key="Q", label=_("leave the lesson"), vital=True),
        )
        rows = rows_of(flow(taps, width=width, tall=tall))
        used = rows * (TALL if tall else 1)
        self._keys.show(fitting(taps, width=width, rows=rows, tall=tall), tall=tall, rows=used)
        self._bar.show((self._bar_text()[:width],))
        beside = width >= BESIDE_COLUMNS and meeting is not None
        columns = WORDS_COLUMNS if beside else width
        text = tuple(row for line in self._lines() for row in textwrap.wrap(line, max(10, columns)))
        room = height - 1 - used
        self._words.show(text[:room])
        self._words.styles.width = columns + 2 if beside else width
        cells = (width - columns - 2, room) if beside else (width, room - len(text))
        self.query_one("#lesson").set_class(not beside, "-below")
        if meeting is None or cells[1] < LEAST_PICTURE:
            self._dog.show(None)
            return
        look = look_of(self.app.theme)
        self._dog.show(region_picture(meeting, width=cells[0], height=cells[1], look=look))

    def _bar_text(self) -> str:
        meeting = self._meeting
        if meeting is None:
            return _("LESSON, LASER OFF: {dog}").format(dog=self._whose)
        return _("LESSON, LASER OFF: place {number} of {of}").format(
            number=self._at, of=len(self._meetings)
        )
