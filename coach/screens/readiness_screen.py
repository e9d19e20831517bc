"""The readiness round: a point on a screen of its own, or a page of lines with yes and no.

Answered by a letter, a tap, or the one key: it says that something is done; where it is about the
dog's health it steps through the answers, and the one on which it stays is taken.
"""

from textual.app import ComposeResult

from coach.language import N_, _
from coach.screens.actions import BY_ID
from coach.screens.answer_lines import AnswerLines, lines_of
from coach.screens.key_bar_layout import Tap
from coach.screens.session_layout import Moment, wrapped
from coach.screens.session_page import PageScreen
from coach.session.readiness import waiting

# The word in block letters: what the point is about, seen from the dog bed.
SIGNS = {
    "dog_and_plan": N_("ready?"),
    "place": N_("place"),
    "eyewear": N_("eyes"),
    "dog_eyes": N_("dog's eyes"),
    "room": N_("room"),
    "lens_and_coat": N_("coat"),
    "ready": N_("ready?"),
}
HEALTH = N_("health")
VET = N_("vet")
SHOWN = {"y": N_("Y"), "n": "N"}


ANSWER_KEYS = (
    # J as well, for ja.
    ("y,j", "round('y')", "yes"),
    ("n", "round('n')", "no"),
)


class RoundScreen(PageScreen):
    """One question of the round."""

    BINDINGS = [*ANSWER_KEYS]  # noqa: RUF012  (the framework's own form)

    def __init__(self) -> None:
        super().__init__()
        self._answers = AnswerLines(id="answers")

    def compose(self) -> ComposeResult:
        """From top to bottom."""
        *above, keys = super().compose()
        yield from above
        yield self._answers
        yield keys

    def sign_text(self, moment: Moment) -> str:
        """What it is about; on a page of lines the room is theirs."""
        asked = moment.view.readiness
        if asked is None or lines_of(asked):
            return ""
        return _(VET if asked.step == "vet" else SIGNS.get(asked.point.id, HEALTH))

    def lines(self, moment: Moment) -> tuple[str, ...]:
        """The question, and what makes it easier to answer."""
        asked = moment.view.readiness
        prompt = None if asked is None else asked.prompt
        if asked is None or prompt is None:
            return moment.told
        told = (asked.told,) if asked.told else ()
        number, of = asked.screen
        place = _("{number} of {of}").format(number=number, of=of)
        if moment.view.away:
            told = (waiting(),)
        if lines_of(asked):
            return (f"{asked.heading} ({place})", *moment.told, *told, *prompt.lines)
        return (*moment.told, *told, *prompt.lines, place)

    def taps(self, moment: Moment) -> tuple[Tap, ...]:
        """The answers; the one key gives the first."""
        asked = moment.view.readiness
        prompt = None if asked is None else asked.prompt
        if prompt is None:
            return ()
        others = prompt.options[prompt.preset :]
        big = prompt.options[0].text if prompt.preset else _("choose, then wait 3 s")
        stop = BY_ID["stop"]
        return (
            Tap(id="one_key", key=BY_ID["one_key"].key, label=big, vital=True),
            *(
                Tap(
                    id=f"round_{option.key}",
                    key=_(SHOWN[option.key]),
                    label=option.text,
                    vital=True,
                )
                for option in others
            ),
            Tap(id="back", key="B", label=_("back")),
            Tap(id="say", key="R", label=_("say again")),
            Tap(id=stop.id, key=stop.key, label=_(stop.label), vital=True),
        )

    def draw(self, moment: Moment) -> None:
        """Put it into the widgets; dimmed while nobody is there."""
        self.set_class(moment.view.away, "-away")
        super().draw(moment)
        asked = moment.view.readiness
        answers = () if asked is None else lines_of(asked)
        width, height = self.size
        text = len(wrapped(self.lines(moment), width=width))
        room = height - 1 - self.key_rows - text
        self._answers.show(answers, rows=max(3, room))
