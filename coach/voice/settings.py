"""How it speaks and how loud, as the owner wants it: the ``[voice]`` table of the settings file.

What cannot be used is told with its line, and what was measured as understood best is taken
instead: a slip in the settings must never cost a session its voice. Pure but for :func:`usual` and
:func:`known_voices`, which look at what is installed; the file itself is read and written by
:mod:`coach.voice.settings_file`.
"""

import os
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from coach.language import ENGLISH, language
from coach.plan.parse import UNREADABLE
from coach.plan.problems import Report, meant, show
from coach.voice.natural import NATURAL

LOUDEST_PERCENT = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class VoiceWishes:
    """What the owner may set.

    Attributes:
        voice: a voice of espeak-ng with its variant, such as ``gmw/en-US+m3``, or
            ``natural/en-US``, for which word gap and pitch do nothing.
        rate_wpm: words a minute.
        word_gap: silence between words, in units of 10 ms at the usual rate.
        pitch: 0 to 99.
        volume_percent: 100 is as loud as the sounds were made, 0 is silent.
        lead_in_ms: how long a loudspeaker that falls asleep in silence takes to wake up.

    Of what espeak-ng can do, the defaults of the first four were understood best in a round trip
    through recognisers.
    """

    voice: str = "gmw/en-US+m3"
    rate_wpm: int = 140
    word_gap: int = 3
    pitch: int = 50
    volume_percent: int = LOUDEST_PERCENT
    lead_in_ms: int = 0

    @property
    def gain(self) -> float:
        """Factor for the samples. Squared: half the percentage sounds about half as loud."""
        return (self.volume_percent / LOUDEST_PERCENT) ** 2


# Each was understood best of those tried; German by a recogniser for English that was taught its
# words, because none for German comes as a wheel.
USUAL: Mapping[str, VoiceWishes] = {
    ENGLISH: VoiceWishes(),
    "de": VoiceWishes(voice="gmw/de+m3", rate_wpm=130),
}


# Names another usual voice: for trials, and for tests that need the quick one.
VARIABLE = "COACH_VOICE"


def usual() -> VoiceWishes:
    """How it speaks in the language in use unless the owner wishes otherwise.

    English is spoken by the natural voice where that is installed: it is understood best.
    """
    code = language()
    wishes = USUAL.get(code, VoiceWishes(voice=code))
    named = os.environ.get(VARIABLE, "")
    if named and speaks(named, code):
        return replace(wishes, voice=named)
    return replace(wishes, voice=NATURAL) if code == ENGLISH and has_natural() else wishes


def has_natural() -> bool:
    """Whether the natural voice is installed."""
    return all(find_spec(package) is not None for package in ("hibari", "onnxruntime"))


def speaks(voice: str, code: str) -> bool:
    """Whether ``voice``, such as ``gmw/en-US+m3``, is one of language ``code``, such as "en"."""
    return voice.partition("+")[0].rpartition("/")[2].partition("-")[0] == code


BOUNDS: Mapping[str, tuple[int, int]] = {
    "rate_wpm": (80, 250),
    "word_gap": (0, 30),
    "pitch": (0, 99),
    "volume_percent": (0, LOUDEST_PERCENT),
    "lead_in_ms": (0, 800),
}
KEYS = tuple(field.name for field in fields(VoiceWishes))


@dataclass(frozen=True, slots=True)
class Voices:
    """The voices and variants that are installed; both empty when that is not known."""

    names: frozenset[str] = frozenset()
    variants: frozenset[str] = frozenset()

    def problem(self, wish: str) -> str | None:
        """What may stand there, if ``wish`` may not. espeak-ng ignores an unknown variant."""
        name, plus, variant = wish.partition("+")
        if not self.names:
            return None
        if wish == NATURAL and wish not in self.names:
            return f"{wish} once the extra natural is installed (see the README)"
        if name not in self.names:
            english = sorted(known for known in self.names if speaks(known, ENGLISH))
            return f"a voice that is installed, such as {', '.join(english)}"
        if plus and name == NATURAL:
            return f"{NATURAL} without a variant"
        if plus and variant not in self.variants:
            some = sorted(known for known in self.variants if len(known) == 2)
            return f"after the +, a variant that is installed, such as {', '.join(some)}"
        return None


def known_voices() -> Voices:
    """What the wheels hold. Looks at file names, does not load an engine."""
    try:
        import espeakng_loader
    except ImportError:
        return Voices()
    data = Path(str(espeakng_loader.get_data_path()))
    folder = data / "lang"
    names = {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}
    if has_natural():
        names.add(NATURAL)
    return Voices(
        names=frozenset(names),
        variants=frozenset(path.name for path in (data / "voices" / "!v").glob("*")),
    )


def wishes_of(table: Any, report: Report, voices: Voices) -> VoiceWishes:
    """The wishes in the ``[voice]`` table; what is wrong goes to ``report``, its default holds."""
    if table is UNREADABLE:
        return usual()
    if not isinstance(table, dict):
        report.add(("voice",), show(table), "a table [voice]")
        return usual()
    usable: dict[str, Any] = {}
    for key, value in table.items():
        if key not in KEYS:
            report.add(("voice", key), "an unknown key", ", ".join(KEYS), meant(key, KEYS))
        elif value is not UNREADABLE:
            allowed = allowed_for(key, value, voices)
            if allowed is None:
                usable[key] = value
            else:
                report.add(("voice", key), show(value), f"{allowed}; {_taken(key)}")
    return replace(usual(), **usable)


def allowed_for(key: str, value: Any, voices: Voices) -> str | None:
    """What may stand in ``key``, if ``value`` may not."""
    if key == "voice":
        if not isinstance(value, str):
            return f'text in quotes, such as "{usual().voice}"'
        if not speaks(value, language()):
            return f"a voice of the language {language()}, such as {usual().voice}"
        return voices.problem(value)
    low, high = BOUNDS[key]
    if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
        return f"a whole number, {low} to {high}"
    return None


def _taken(key: str) -> str:
    return f"{show(getattr(usual(), key))} is taken instead"
