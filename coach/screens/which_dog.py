"""Is this the dog, and this its plan? By name, in large letters, and by a picture of its spots."""

import textwrap
from collections.abc import Callable, Sequence

from textual.app import ComposeResult
from textual.binding import Binding
from textual.screen import ModalScreen

from coach.body.drawing import Drawing, Mark, draw_dog, view_of
from coach.body.raster import Look
from coach.body.regions import SIDES, Side, told
from coach.language import _
from coach.plan.model import Plan
from coach.plan.spots import Spot
from coach.screens import block
from coach.screens.block import LETTER_ROWS
from coach.screens.dog import Dog, look_of
from coach.screens.keys import Keys
from coach.screens.messages import Asked
from coach.screens.rows import ROOMY_ROWS
from coach.screens.sign import Sign
from coach.screens.taps import TALL, Tap, fitting, flow, rows_of
from coach.session.cues import side_word
from coach.units import NS_PER_S

# A press that was meant for the screen before. Common practice, no source.
FRESH_NS = 2 * NS_PER_S // 5
LEAST_PICTURE = 8


def places_of(spots: Sequence[Spot]) -> tuple[str, ...]:
    """The regions of a session in the owner's words with their sides, one line each."""
    sides: dict[str, set[str]] = {}
    for spot in spots:
        sides.setdefault(told(spot.region).owner_words, set()).add(spot.side)
    return tuple(
        f"{name}: {', '.join(side_word(side) for side in SIDES if side in found)}"
        for name, found in sides.items()
    )


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


class DogScreen(ModalScreen[bool], inherit_bindings=False):
    """Gives True when this is the dog, None when not."""

    ALLOW_SELECT = False
    AUTO_FOCUS = ""
    BINDINGS = [  # noqa: RUF012  (the framework's own form)
        Binding("space,enter,pagedown,right,down", "yes", id="one_key"),
        Binding("n,q,escape,ctrl+q,ctrl+c", "no"),
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
        self._opened_ns = mono_ns()
        self._bar = Sign("bar")
        self._large = Sign("sign")
        self._text = Sign("lines")
        self._dog = Dog(asks="yes")
        self._keys = Keys(id="keys")

    def compose(self) -> ComposeResult:
        """From top to bottom."""
        yield self._bar
        yield self._large
        yield self._text
        yield self._dog
        yield self._keys

    def on_mount(self) -> None:
        """Say it as well."""
        if self._say is not None:
            question = _("Is {dog} in front of you?").format(dog=self._plan.dog.name)
            self._say(" ".join((question, *(f"{place}." for place in places_of(self._spots)))))

    def on_resize(self) -> None:
        """Everything in its size."""
        width, height = self.size
        tall = height >= ROOMY_ROWS
        taps = (
            Tap(id="yes", key="SPACE", label=_("yes, this dog"), vital=True),
            Tap(id="no", key="N", label=_("no"), vital=True),
        )
        rows = rows_of(flow(taps, width=width, tall=tall))
        used = rows * (TALL if tall else 1)
        self._keys.show(fitting(taps, width=width, rows=rows, tall=tall), tall=tall, rows=used)
        self._bar.show((_("IS THIS THE DOG IN FRONT OF YOU?")[:width],))
        left = height - 1 - used
        name = block.letters(self._plan.dog.name, width=width, height=LETTER_ROWS)
        if name is None or left < 2 * LETTER_ROWS:
            name = (self._plan.dog.name[:width],)
        self._large.show(block.centred(name, width=width, height=len(name)))
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
        if message.id == "yes":
            self.action_yes()
        else:
            self.action_no()

    def action_yes(self) -> None:
        """This is the dog."""
        if self._mono_ns() - self._opened_ns >= FRESH_NS:
            self.dismiss(True)

    def action_no(self) -> None:
        """It is another one: nothing starts."""
        self.dismiss(None)
