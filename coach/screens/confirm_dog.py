"""Is this the dog, and this its plan? By name, in large letters, and by a picture of its spots."""

import textwrap
from collections.abc import Callable, Sequence

from textual.app import ComposeResult
from textual.binding import Binding
from textual.screen import ModalScreen

from coach.bedside.flow import Pressed
from coach.bedside.pages import places_of
from coach.body.drawing import Drawing, Mark, draw_dog, view_of
from coach.body.raster import Look
from coach.body.regions import Side, told
from coach.language import _
from coach.plan.model import Plan
from coach.plan.spots import Spot
from coach.screens import block_letters
from coach.screens.ask import BEAT_S, DWELL_NS, ONE_KEY
from coach.screens.block_letters import LETTER_ROWS
from coach.screens.dog_picture import Dog, look_of
from coach.screens.key_bar import Keys
from coach.screens.key_bar_layout import TALL, Tap, fitting, flow, rows_of
from coach.screens.key_debounce import OnePress
from coach.screens.layout_rows import ROOMY_ROWS
from coach.screens.messages import Asked
from coach.screens.text_block import Sign
from coach.units import NS_PER_S

LEAST_PICTURE = 8


def plan_picture(spots: Sequence[Spot], *, width: int, height: int, look: Look) -> Drawing:
    """The whole dog with every spot of the plan that is seen from there."""
    treated = [spot for spot in spots if not spot.settle] or list(spots)
    views = {view_of(spot.region) for spot in treated}
    sides = [spot.side for spot in treated]
    side: Side = "right" if sides.count("right") > sides.count("left") else "left"
    return draw_dog(
        width=width,
        height=height,
        look=look,
        view="top" if views == {"top"} else "side",
        side=side,
        coming=[
            Mark(
                region=spot.region,
                side=spot.side,
                aspect=spot.aspect,
                number=spot.number,
                of=spot.of,
            )
            for spot in spots
        ],
    )


class DogScreen(ModalScreen[Pressed], inherit_bindings=False):
    """Gives the key ``yes`` when this is the dog, else ``no``.

    The one big key steps to yes and to no, and the answer on which it stays is taken: the right
    dog is not confirmed by a press out of habit.
    """

    ALLOW_SELECT = False
    AUTO_FOCUS = ""
    BINDINGS = [  # noqa: RUF012  (the framework's own form)
        Binding(ONE_KEY, "step", id="one_key"),
        Binding("y,j", "yes", id="dog_yes"),
        Binding("n,q,escape,ctrl+q,ctrl+c", "no", id="dog_no"),
    ]

    def __init__(
        self,
        plan: Plan,
        spots: Sequence[Spot],
        *,
        mono_ns: Callable[[], int],
        say: Callable[[str], None] | None = None,
    ) -> None:
        super().__init__()
        self._say = say
        self._plan = plan
        self._spots = tuple(spots)
        self._mono_ns = mono_ns
        self._hand = OnePress(self._do, mono_ns=mono_ns, later=self.set_timer)
        self._left = False
        self._at: int | None = None
        self._stepped_ns = 0
        self._note = Sign("note")
        self._bar = Sign("bar")
        self._large = Sign("sign")
        self._text = Sign("lines")
        self._dog = Dog(asks="step")
        self._keys = Keys(id="keys")

    def compose(self) -> ComposeResult:
        """From top to bottom."""
        yield self._bar
        yield self._large
        yield self._text
        yield self._dog
        yield self._note
        yield self._keys

    def on_mount(self) -> None:
        """Say it as well, and begin to look at the clock."""
        self.set_interval(BEAT_S, self.beat)
        if self._say is not None:
            question = _("Is {dog} in front of you?").format(dog=self._plan.dog.name)
            keys = _("Press {yes} for yes, N for no.").format(yes=_("Y"))
            places = (f"{place}." for place in places_of(self._spots))
            step = _("Or choose with the big key, then wait.")
            self._say(" ".join((question, *places, keys, step)))

    def on_resize(self) -> None:
        """Everything in its size."""
        width, height = self.size
        tall = height >= ROOMY_ROWS
        taps = (
            Tap(id="yes", key=_("Y"), label=_("yes, this dog"), vital=True),
            Tap(id="no", key="N", label=_("no"), vital=True),
            Tap(id="step", key=_("SPACE"), label=_("choose, then wait 3 s")),
        )
        rows = rows_of(flow(taps, width=width, tall=tall))
        used = rows * (TALL if tall else 1)
        self._keys.show(fitting(taps, width=width, rows=rows, tall=tall), tall=tall, rows=used)
        self._bar.show((_("IS THIS THE DOG IN FRONT OF YOU?")[:width],))
        self._note.show((self._note_text()[:width],))
        left = height - 2 - used
        name = block_letters.letters(self._plan.dog.name, width=width, height=LETTER_ROWS)
        if name is None or left < 2 * LETTER_ROWS:
            name = (self._plan.dog.name[:width],)
        self._large.show(block_letters.centred(name, width=width, height=len(name)))
        left -= len(name)
        text = self._lines(width, short=False)
        if left - len(text) < LEAST_PICTURE:
            text = self._lines(width, short=True)[: max(1, left)]
        self._text.show(text)
        left -= len(text)
        look = look_of(self.app.theme)
        self._dog.show(
            plan_picture(self._spots, width=width, height=left, look=look)
            if left >= LEAST_PICTURE
            else None
        )

    def _lines(self, width: int, *, short: bool) -> tuple[str, ...]:
        about = self._plan.about
        names = dict.fromkeys(told(spot.region).spoken for spot in self._spots)
        lines = (
            _("Plan {plan}, revision {revision}, by {prescriber}").format(
                plan=about.id, revision=about.revision, prescriber=about.prescriber
            ),
            *([", ".join(names)] if short else places_of(self._spots)),
        )
        return tuple(row for line in lines for row in textwrap.wrap(line, max(10, width)))

    def on_asked(self, message: Asked) -> None:
        """A tap."""
        message.stop()
        {"yes": self.action_yes, "no": self.action_no, "step": self.action_step}[message.id]()

    def beat(self) -> None:
        """Take the answer on which the one big key has stayed."""
        self._hand.beat()
        if self._at is None:
            return
        if self._mono_ns() - self._stepped_ns < DWELL_NS:
            self._note.show((self._note_text()[: self.size.width],))
        else:
            self._done(yes=self._at == 0)

    def action_step(self) -> None:
        """The one big key."""
        self._hand.press("step")
        # A key held down stays on its answer; that is not waiting.
        self._stepped_ns = self._mono_ns()

    def action_yes(self) -> None:
        """This is the dog."""
        self._hand.press("yes")

    def action_no(self) -> None:
        """It is another one: nothing starts."""
        self._hand.press("no")

    def _do(self, id: str, _at_ns: int) -> None:  # noqa: A002
        if id != "step":
            self._done(yes=id == "yes")
            return
        self._at = 0 if self._at is None else 1 - self._at
        self._stepped_ns = self._mono_ns()
        if self._say is not None:
            self._say(self._answers()[self._at])
        self.beat()

    def _answers(self) -> tuple[str, str]:
        return (_("yes, this dog"), _("no"))

    def _note_text(self) -> str:
        if self._at is None:
            return ""
        left_s = -(-(DWELL_NS - (self._mono_ns() - self._stepped_ns)) // NS_PER_S)
        return _("Your answer: {answer}. Taken in {seconds} s.").format(
            answer=self._answers()[self._at], seconds=left_s
        )

    def _done(self, *, yes: bool) -> None:
        # The beat and a key can come to it at once.
        if self._left:
            return
        self._left = True
        if self._say is not None:
            self._say("")
        self.dismiss(Pressed("yes" if yes else "no"))
