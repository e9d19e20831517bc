"""What ``coach selfcheck`` makes of what it finds on this computer. Pure: texts in, findings out.

Levels: ``fine``; ``remark``, worth knowing and no more; ``trouble``, to be put right before a
session is relied upon; ``unknown``, where this computer does not tell.
"""

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

# Comes with pydantic, which makes the schema; typing's own would do from Python 3.12 on.
from typing_extensions import TypedDict

from coach.appliance.display import SMALL, Display
from coach.journal.journal_lines import Trust

SCHEMA = 1
MB = 1_000_000
LEAST_FREE_MB = 50

Level = Literal["fine", "remark", "trouble", "unknown"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing that was looked at: what was found, whether it matters, what to do."""

    topic: str
    level: Level
    found: str
    matters: str = ""
    to_do: str = ""


class FindingJson(TypedDict):
    """As in :class:`Finding`; nothing to say is an empty text."""

    topic: str
    level: Level
    found: str
    matters: str
    to_do: str


class SelfcheckJson(TypedDict):
    """``coach selfcheck --json``; ``ready``: nothing that was found is ``trouble``."""

    schema: int
    ready: bool
    findings: list[FindingJson]


def to_json(findings: Sequence[Finding]) -> SelfcheckJson:
    """For other programs."""
    return SelfcheckJson(
        schema=SCHEMA,
        ready=ready(findings),
        findings=[
            FindingJson(
                topic=one.topic,
                level=one.level,
                found=one.found,
                matters=one.matters,
                to_do=one.to_do,
            )
            for one in findings
        ],
    )


def ready(findings: Sequence[Finding]) -> bool:
    """Whether nothing needs to be put right."""
    return all(one.level != "trouble" for one in findings)


SIGNS: Mapping[Level, str] = {"fine": "ok", "remark": "note", "trouble": "FIX", "unknown": "?"}


def lines(findings: Sequence[Finding]) -> list[str]:
    """For people."""
    told = []
    for one in findings:
        told.append(f"{SIGNS[one.level]:>4}  {one.topic}: {one.found}")
        told += [f"      {text}" for text in (one.matters, one.to_do and f"-> {one.to_do}") if text]
    return told


def sound(kind: str, cards: str, spoken_problem: str) -> Finding:
    """``kind``: what the player told; ``cards``: /proc/asound/cards; why nothing can be spoken."""
    names = re.findall(r"^ *\d+ \[.*?\]: .*? - (.*)$", cards, re.MULTILINE)
    listed = ", ".join(name.strip() for name in names) or "no sound card"
    if spoken_problem:
        return Finding(
            topic="sound",
            level="trouble",
            found=f"{listed}; words cannot be made: {spoken_problem}",
            matters="You would only hear the tones.",
            to_do="Install the program again; coach voice says a sample.",
        )
    if kind != "sound_device_ok":
        return Finding(
            topic="sound",
            level="trouble",
            found=f"{listed}; nothing plays ({kind.replace('_', ' ') or 'no answer'})",
            matters="Every cue would only be on the screen.",
            to_do="Plug in or switch on the loudspeaker, then: coach voice",
        )
    if len(names) > 1:
        return Finding(
            topic="sound",
            level="remark",
            found=f"plays; {len(names)} sound cards: {listed}",
            matters="It may be the wrong one that plays: a display has a sound card too.",
            to_do="Listen: coach voice. Choose with raspi-config, or wpctl set-default.",
        )
    return Finding(topic="sound", level="fine", found=f"plays; {listed}")


def microphone(pcm: str, *, trial: str = "") -> Finding:
    """``pcm``: /proc/asound/pcm. ``trial``: how the last one went, "" for never tried."""
    inputs = [line.split(":")[1].strip() for line in pcm.splitlines() if "capture" in line]
    if not inputs:
        return Finding(
            topic="microphone",
            level="remark",
            found=f"none; {trial}" if trial else "none",
            matters="Spoken commands will not be heard. Pedal, keys and taps do everything.",
        )
    listed = ", ".join(inputs)
    if not trial:
        return Finding(
            topic="microphone",
            level="fine",
            found=f"{listed}; not tried",
            to_do="To use spoken words: coach listen.",
        )
    return Finding(topic="microphone", level="fine", found=f"{listed}; {trial}")


def screen(
    shown: Sequence[Display],
    *,
    terminal: tuple[int, int] | None,
    kind: str,
    encoding: str,
) -> Finding:
    """Displays, columns and rows of the terminal (or None), its TERM, the encoding of texts."""
    told = [f"{one.name} {one.width}x{one.height}" for one in shown]
    if terminal is not None:
        told.append(f"{terminal[0]} columns, {terminal[1]} rows here ({kind or 'no TERM'})")
    found = ", ".join(told) or "neither a display nor a terminal"
    if encoding.lower().replace("-", "") != "utf8":
        return Finding(
            topic="screen",
            level="trouble",
            found=f"{found}; texts in {encoding}",
            matters="The dog and the signs cannot be drawn.",
            to_do="Set the language to one with UTF-8, such as LANG=C.UTF-8.",
        )
    if terminal is not None and (terminal[0] < SMALL[0] or terminal[1] < SMALL[1]):
        return Finding(
            topic="screen",
            level="trouble",
            found=found,
            matters=f"The session needs {SMALL[0]} columns and {SMALL[1]} rows.",
            to_do="Take smaller letters or a larger window, or use --plain.",
        )
    if kind == "linux":
        return Finding(
            topic="screen",
            level="remark",
            found=found,
            matters="A bare console has few signs.",
            to_do="Use --look console; coach install --screen console does.",
        )
    if not told:
        return Finding(
            topic="screen",
            level="remark",
            found=found,
            matters="With the display pulled out, a session would only be heard.",
            to_do="Plug it in and look again, or ask from another computer with ssh -t.",
        )
    return Finding(topic="screen", level="fine", found=found)


def clock(trust: Trust, now: str, zone: str) -> Finding:
    """How far the clock can be trusted, and what it says."""
    found = f"{now} ({zone}), " + {
        "synchronised": "set by the network",
        "rtc": "set by a battery clock",
        "unknown": "set by nothing that can be trusted",
    }.get(trust, trust)
    if trust == "unknown":
        return Finding(
            topic="clock",
            level="remark",
            found=found,
            matters="Seconds are counted all the same. But dates in the log may be wrong, gaps "
            "between sessions must be asked for, and no reminder is spoken.",
            to_do="Connect to the network, or add a clock with a battery.",
        )
    return Finding(topic="clock", level="fine", found=found)


# File systems without a journal of their own: what was being written can be torn by a pulled plug.
FRAGILE = {"vfat", "exfat", "msdos", "ntfs", "ntfs3", "fuseblk"}
PASSING = {"tmpfs", "ramfs", "overlay"}
# ext4(5): with these, what was said to be on the disk may not be after a power cut.
RISKY = {"nobarrier", "barrier=0", "data=writeback", "noload"}


def disk(kind: str, options: Collection[str], *, free_bytes: int, folder: str) -> Finding:
    """File system and mount options of the folder in which the logs are."""
    found = f"{folder} on {kind}, {free_bytes // MB} MB free"
    risky = sorted(RISKY & set(options))
    if "ro" in options:
        return Finding(
            topic="disk",
            level="trouble",
            found=f"{found}, read-only",
            matters="No session can be logged, so none can start.",
            to_do="Put COACH_HOME on the writable partition (systemd/README.md tells how).",
        )
    if free_bytes < LEAST_FREE_MB * MB:
        return Finding(
            topic="disk",
            level="trouble",
            found=found,
            matters="A session whose log does not fit is not started.",
            to_do="Make room; the logs themselves are small.",
        )
    if kind in PASSING:
        return Finding(
            topic="disk",
            level="trouble",
            found=found,
            matters="What is written there is gone after switching off.",
            to_do="Put COACH_HOME on a partition that stays (systemd/README.md tells how).",
        )
    if risky:
        return Finding(
            topic="disk",
            level="trouble",
            found=f"{found}, mounted with {', '.join(risky)}",
            matters="After a pulled plug the last seconds of a log may be missing or torn.",
            to_do="Take these options out of /etc/fstab.",
        )
    if kind in FRAGILE:
        return Finding(
            topic="disk",
            level="remark",
            found=found,
            matters="This file system has no journal: a pulled plug can harm more than one file.",
            to_do="Keep the logs on ext4.",
        )
    return Finding(topic="disk", level="fine", found=found)


def wear(*, errors: int | None, life: str, spare: str) -> Finding:
    """Errors that ext4 has counted, and what an eMMC tells of its age (``life_time``,
    ``pre_eol_info``), as the kernel shows them.

    JEDEC eMMC 5.0, EXT_CSD, from memory: life time 0x01 is up to 10 % used, 0x0a up to 100 %,
    0x0b beyond; end of life 0x01 normal, 0x02 warning, 0x03 urgent. SD cards tell neither.
    """
    used = max((int(word, 16) for word in re.findall(r"0x[0-9a-fA-F]+", life)), default=0)
    left = int(spare, 16) if re.fullmatch(r"0x[0-9a-fA-F]+", spare) else 0
    told = []
    if errors is not None:
        told.append(f"{errors} errors counted by the file system")
    if used:
        told.append(f"up to {used * 10} % of its life used")
    found = ", ".join(told) or "this card does not tell"
    if errors or used > 10 or left >= 3:
        return Finding(
            topic="card",
            level="trouble",
            found=found,
            matters="A card that fails takes the logs with it.",
            to_do="Hand over the logs now, and put everything on a new card.",
        )
    if used >= 9 or left == 2:
        return Finding(
            topic="card",
            level="remark",
            found=found,
            matters="It is near its end.",
            to_do="Plan for a new card, and hand over the logs before.",
        )
    return Finding(topic="card", level="fine" if told else "unknown", found=found)


def power(*, alarm: str, throttled: str) -> Finding:
    """The board's under-voltage flag (hwmon ``in0_lcrit_alarm``), and its firmware's flags.

    Bits of ``get_throttled`` as the board's documentation gives them, from memory: 0 under-voltage
    now, 16 since switching on; 2 throttled now, 18 since.
    """
    flags = re.search(r"0x([0-9a-fA-F]+)", throttled)
    bits = int(flags[1], 16) if flags else 0
    if not alarm and flags is None:
        return Finding(topic="power", level="unknown", found="this board does not tell")
    low_now, low_since = alarm == "1" or bool(bits & 1), bool(bits & 1 << 16)
    if low_now or low_since:
        return Finding(
            topic="power",
            level="trouble",
            found=f"the voltage {'is' if low_now else 'was'} too low",
            matters="The computer may stop in mid-session, and cards are harmed by it.",
            to_do="Use the power supply that belongs to the board, with a short cable.",
        )
    if bits & (1 << 2 | 1 << 18):
        return Finding(
            topic="power",
            level="remark",
            found="the voltage is fine; the board runs slower than it could (heat)",
            to_do="Give it air.",
        )
    return Finding(topic="power", level="fine", found="the voltage is fine")


# linux/input-event-codes.h
ABS_MT_POSITION_X = 53


def _axes(words: str) -> int:
    """The bits of an ``ABS=`` line: one word of 64, or two of 32 on a 32-bit kernel."""
    high, _, low = words.rpartition(" ")
    return int(high or "0", 16) << 32 | int(low, 16)


def keys(devices: str, *, pressed: str | None, means: str) -> Finding:
    """``devices``: /proc/bus/input/devices; the key that was pressed when asked, and its action.

    ``pressed`` is "" when nothing came, None when nobody was asked.
    """
    blocks = devices.split("\n\n")
    keyboards, touch = [], []
    for block in blocks:
        name = re.search(r'^N: Name="(.*)"$', block, re.MULTILINE)
        handlers = re.search(r"^H: Handlers=(.*)$", block, re.MULTILINE)
        axes = re.search(r"^B: ABS=([0-9a-f ]+)$", block, re.MULTILINE)
        if name and handlers and "kbd" in handlers[1].split():
            keyboards.append(name[1])
        if name and axes and _axes(axes[1]) >> ABS_MT_POSITION_X & 1:
            touch.append(name[1])
    told = [*keyboards, *(f"{name} (touch)" for name in touch)]
    found = ", ".join(told) or "no keyboard, pedal or touch panel"
    if pressed:
        return Finding(topic="keys", level="fine", found=f"{pressed} means {means}; {found}")
    if pressed == "":
        return Finding(
            topic="keys",
            level="trouble",
            found=f"nothing was pressed; {found}",
            matters="Without a key that arrives you could not pause.",
            to_do="Plug it in, pair it, then: coach keys",
        )
    if not told and devices:
        return Finding(
            topic="keys",
            level="remark",
            found=found,
            matters="You could not pause or stop from here.",
            to_do="Plug in a keyboard or a pedal; coach keys shows what arrives.",
        )
    return Finding(topic="keys", level="fine" if told else "unknown", found=found)
