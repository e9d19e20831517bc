"""What a dog shows when it has had enough, and what to do then. Pure.

Early signs: Mariti and others 2012 (1,190 owners), often missed by owners; body.md, section 3, has
them with the signs to stop for. Two or more early signs: a pause. Any sign to stop for: a stop.
The coach suggests and never argues; the owner decides.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

from coach.language import N_, _

Advice = Literal["go_on", "pause", "stop"]
Outcome = Literal["paused", "stopped"]

PAUSE_FROM = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Signal:
    """One sign. ``key`` marks it, ``stops`` means stop now, ``lesson`` is told in a move."""

    id: str
    key: str
    text: str
    stops: bool = False
    lesson: str = ""


EARLY: tuple[Signal, ...] = (
    Signal(
        id="turns_away", key="1", text=N_("turns away"), lesson=N_("Turning away can mean: enough.")
    ),
    Signal(id="yawns", key="2", text=N_("yawns"), lesson=N_("A yawn can mean: tense.")),
    Signal(
        id="licks_lips", key="3", text=N_("licks lips"), lesson=N_("Licked lips can mean: tense.")
    ),
    Signal(id="lifts_paw", key="4", text=N_("lifts a paw"), lesson=N_("A lifted paw: unsure.")),
    Signal(id="ears_back", key="5", text=N_("ears back"), lesson=N_("Ears back can mean: afraid.")),
    Signal(
        id="stiffens",
        key="6",
        text=N_("goes stiff"),
        lesson=N_("A stiff body: ill at ease."),
    ),
    Signal(
        id="pants",
        key="7",
        text=N_("panting though not hot"),
        lesson=N_("Panting though not hot: upset."),
    ),
)
STOPS: tuple[Signal, ...] = (
    Signal(id="growls", key="g", text=N_("growls"), stops=True),
    Signal(id="snaps", key="n", text=N_("snaps"), stops=True),
    Signal(id="freezes", key="f", text=N_("freezes"), stops=True),
    Signal(id="flinches", key="y", text=N_("flinches or yelps"), stops=True),
    Signal(id="leaves_twice", key="w", text=N_("walks off twice"), stops=True),
    Signal(id="trembles", key="t", text=N_("trembles"), stops=True),
    Signal(id="hot_skin", key="h", text=N_("hot or red skin"), stops=True),
)
SIGNALS: tuple[Signal, ...] = EARLY + STOPS
BY_ID: Mapping[str, Signal] = {signal.id: signal for signal in SIGNALS}

ADVICE: Mapping[Advice, str] = {
    "go_on": N_("Watch your dog. One more sign: take a break."),
    "pause": N_("Take a break. Let your dog rest."),
    "stop": N_("It is best to stop now."),
}


def advice(seen: Iterable[str]) -> Advice:
    """What the signs in ``seen`` ask for. ValueError for one that is not known."""
    signals = set(seen)
    unknown = signals - BY_ID.keys()
    if unknown:
        raise ValueError(f"unknown signs: {', '.join(sorted(unknown))}")
    if any(BY_ID[name].stops for name in signals):
        return "stop"
    return "pause" if len(signals) >= PAUSE_FROM else "go_on"


def stop_reason(seen: Iterable[str]) -> Literal["dog_unhappy", "hot_skin"]:
    """The reason of a stop after these signs."""
    return "hot_skin" if "hot_skin" in set(seen) else "dog_unhappy"


def every_sentence() -> list[str]:
    """All that is said about signs, for rendering ahead."""
    return [*(_(words) for words in ADVICE.values()), *map(seen_text, BY_ID)]


def seen_text(sign: str) -> str:
    """What is said of a sign that was marked."""
    return _("You saw: {signs}.").format(signs=_(BY_ID[sign].text))


def taught(session_number: int) -> Signal:
    """The early sign that is taught in the session with that number, from 0 on: one each."""
    return EARLY[session_number % len(EARLY)]
