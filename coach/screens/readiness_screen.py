"""The readiness round, one point at a time: answered by the one key, a letter, a tap."""

from coach.language import N_, _
from coach.screens.actions import BY_ID
from coach.screens.key_bar_layout import Tap
from coach.screens.session_layout import Moment
from coach.screens.session_page import PageScreen
from coach.session.readiness import waiting

# The word in block letters: what the point is about, seen from the dog bed.
SIGNS = {
    "dog_and_plan": N_("ready?"),
    "place": N_("place"),
    "eyewear": N_("eyes"),
    "dog_eyes": N_("dog eyes"),
    "others_out": N_("room"),
    "door_shut": N_("room"),
    "shiny_covered": N_("room"),
    "room": N_("room"),
    "lens_clean": N_("lens"),
    "coat_parted": N_("coat"),
    "collar_off": N_("collar"),
    "lens_and_coat": N_("ready?"),
}
NEWS = N_("news")
VET = N_("vet")
SHOWN = {"y": N_("Y"), "n": "N"}


ANSWER_KEYS = (
    # J as well, for ja.
    ("y,j", "app.round('y')", "yes"),
    ("n", "app.round('n')", "no"),
)


class RoundScreen(PageScreen, inherit_bindings=False):
    """One question of the round."""

    BINDINGS = [*ANSWER_KEYS]  # noqa: RUF012  (the framework's own form)

    def sign_text(self, moment: Moment) -> str:
        """What it is about."""
        asked = moment.view.readiness
        if asked is None:
            return ""
        return _(VET if asked.step == "vet" else SIGNS.get(asked.point.id, NEWS))

    def lines(self, moment: Moment) -> tuple[str, ...]:
        """The question, and what makes it easier to answer."""
        asked = moment.view.readiness
        prompt = None if asked is None else asked.prompt
        if asked is None or prompt is None:
            return moment.told
        told = (asked.told,) if asked.told else ()
        number = _("{number} of {of}").format(number=asked.index + 1, of=len(asked.points))
        if moment.view.away:
            told = (waiting(),)
        return (*moment.told, *told, *prompt.lines, number)

    def taps(self, moment: Moment) -> tuple[Tap, ...]:
        """The answers; the one key gives the first."""
        asked = moment.view.readiness
        prompt = None if asked is None else asked.prompt
        if prompt is None:
            return ()
        first, *others = prompt.options
        stop = BY_ID["stop"]
        return (
            Tap(id="one_key", key=BY_ID["one_key"].key, label=first.text, vital=True),
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
