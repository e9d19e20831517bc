"""``coach voice``: hear it, and keep how it speaks and how loud."""

import argparse
import sys
import time
from dataclasses import replace
from typing import TYPE_CHECKING

from coach.cli.exits import Exit
from coach.language import _

if TYPE_CHECKING:
    from coach.voice.settings import VoiceWishes

LISTEN_S = 3.0
LOUDER_PERCENT = 10
MORE_LEAD_IN_MS = 400

OPTIONS = {
    "voice": "--voice",
    "rate_wpm": "--rate",
    "word_gap": "--gap",
    "pitch": "--pitch",
    "volume_percent": "--volume",
    "lead_in_ms": "--lead-in",
}


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the command to the command line."""
    command = commands.add_parser(
        "voice",
        help="hear the voice, and set how it speaks and how loud",
        description="Say a sample cue and keep what is set. In a terminal it asks for the volume.",
    )
    helps = (
        "such as gmw/en-US+m3, natural/en-US or gmw/de+m3",
        "words a minute",
        "between words",
        "0 to 99",
        "0 to 100 percent",
        "milliseconds that a sleepy loudspeaker takes to wake up",
    )
    for (name, option), text in zip(OPTIONS.items(), helps, strict=True):
        kind, shown = (str, "NAME") if name == "voice" else (int, "N")
        command.add_argument(option, dest=name, type=kind, metavar=shown, help=text)
    command.add_argument("--usual", action="store_true", help="back to what is understood best")
    command.add_argument("--quiet", action="store_true", help="set it without a sample")
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Set, say, ask, keep."""
    from coach.cli.keys import settings
    from coach.voice.settings import allowed_for, known_voices, usual

    wished = {name: getattr(args, name) for name in OPTIONS if getattr(args, name) is not None}
    voices = known_voices()
    refused = [
        f"coach: {OPTIONS[name]}: found {value!r}; allowed: {allowed}"
        for name, value in wished.items()
        if (allowed := allowed_for(name, value, voices)) is not None
    ]
    if refused:
        print("\n".join(refused), file=sys.stderr)
        return Exit.BAD_INPUT
    before = settings().voice
    wishes = replace(usual() if args.usual else before, **wished)
    if not args.quiet:
        wishes = _heard(wishes)
    changes = {name: getattr(wishes, name) for name in OPTIONS if args.usual or name in wished} | {
        "volume_percent": wishes.volume_percent,
        "lead_in_ms": wishes.lead_in_ms,
    }
    return _keep(changes, wishes)


def sample() -> str:
    """A cue to judge the voice by."""
    from coach.plan.spots import Spot
    from coach.session.cues import place_text
    from coach.units import NS_PER_S

    return place_text(
        Spot(
            index=0,
            region="lumbar",
            side="left",
            aspect=None,
            number=2,
            of=2,
            hold_ns=NS_PER_S,
            move_ns=0,
        )
    )


def _keep(changes: dict[str, object], wishes: "VoiceWishes") -> int:
    from coach.paths import settings_file
    from coach.voice.settings_file import change_settings

    try:
        change_settings(settings_file(), "voice", changes)
    except (OSError, ValueError) as error:
        problem = _("the settings cannot be kept: {error}").format(error=error)
        print(f"coach: {problem}", file=sys.stderr)
        return Exit.BAD_INPUT
    print(
        _(
            "{voice}, {rate} words a minute, gap {gap}, pitch {pitch}, volume {volume} %, "
            "lead-in {lead_in} ms. Kept in {file}"
        ).format(
            voice=wishes.voice,
            rate=wishes.rate_wpm,
            gap=wishes.word_gap,
            pitch=wishes.pitch,
            volume=wishes.volume_percent,
            lead_in=wishes.lead_in_ms,
            file=settings_file(),
        )
    )
    return Exit.DONE


def _heard(wishes: "VoiceWishes") -> "VoiceWishes":
    """Say the sample; in a terminal, until the volume is right."""
    from coach.voice.settings import BOUNDS

    while True:
        print(
            _("Volume {percent} %: {words}").format(percent=wishes.volume_percent, words=sample()),
            flush=True,
        )
        say_once(sample(), wishes, tone="start")
        if not sys.stdin.isatty():
            return wishes
        answer = input(
            _("Right? Enter keeps it, + is louder, - is softer, c if the first word was cut off: ")
        ).strip()
        if answer == "c":
            longest_ms = BOUNDS["lead_in_ms"][1]
            lead_in_ms = min(longest_ms, wishes.lead_in_ms + MORE_LEAD_IN_MS)
            wishes = replace(wishes, lead_in_ms=lead_in_ms)
            continue
        if answer not in ("+", "-"):
            return wishes
        step = LOUDER_PERCENT if answer == "+" else -LOUDER_PERCENT
        wishes = replace(wishes, volume_percent=min(100, max(0, wishes.volume_percent + step)))


def say_once(words: str, wishes: "VoiceWishes", *, tone: str | None) -> None:
    """Say ``words`` now, or tell why they cannot be heard; comes back when they are said."""
    from coach.voice.wished_voice import spoken_voice

    voice = spoken_voice(wishes)
    try:
        for text, problem in voice.prepare([words]).items():
            told = _("{words} cannot be spoken: {problem}").format(
                words=repr(text), problem=problem
            )
            print(f"coach: {told}", file=sys.stderr)
        now_ns = time.monotonic_ns()
        worth_ns = now_ns + round(LISTEN_S * 1e9)
        voice.say(words, at_ns=now_ns, until_ns=worth_ns, urgent=False, tone=tone)
        ends_s = time.monotonic() + LISTEN_S
        while time.monotonic() < ends_s:
            for report in voice.poll():
                if report.notice:
                    print(f"coach: {report.notice}", file=sys.stderr)
                if report.kind in ("no_sound_device", "player_lost", "cue_started"):
                    return
            time.sleep(0.05)
    finally:
        voice.close()
