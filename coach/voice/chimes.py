"""Makes the tones in ``sounds/``: ``python -m coach.voice.chimes [FOLDER]``.

Dogs mind high, intermittent sounds (Grigg et al. 2021, Front Vet Sci). So each tone is low, soft
and single: 196 to 330 Hz, raised-cosine attack, long decay, hardly anything above 1 kHz. That it
is low and soft is our choice; the source gives no limits.
"""

import math
import sys
from array import array
from importlib.resources import files
from pathlib import Path

from coach.voice.waves import FULL, RATE_HZ, write_wave

ATTACK_S = 0.08
PEAK = 0.16

# Name: notes as (begins_s, frequency_hz), lasts_s. Start rises, end falls, pause stays low.
TONES: dict[str, tuple[tuple[tuple[float, float], ...], float]] = {
    "start": (((0.0, 261.63), (0.18, 329.63)), 1.0),
    "end": (((0.0, 329.63), (0.22, 220.0)), 1.3),
    "pause": (((0.0, 196.0),), 0.9),
}


def tone(notes: tuple[tuple[float, float], ...], lasts_s: float) -> "array[int]":
    """One chime: every note swells in and dies away to nothing."""
    samples = array("h", bytes(2 * round(lasts_s * RATE_HZ)))
    for begins_s, frequency_hz in notes:
        first = round(begins_s * RATE_HZ)
        for n in range(first, len(samples)):
            t = (n - first) / RATE_HZ
            left_s = lasts_s - begins_s
            swell = 0.5 - 0.5 * math.cos(math.pi * min(1.0, t / ATTACK_S))
            decay = math.exp(-4.0 * t / left_s) * min(1.0, (left_s - t) / 0.1)
            # A trace of the octave lets small loudspeakers carry the note.
            wave = math.sin(2 * math.pi * frequency_hz * t) + 0.15 * math.sin(
                4 * math.pi * frequency_hz * t
            )
            samples[n] += round(FULL * PEAK * swell * decay * wave)
    return samples


def sounds_folder() -> Path:
    """Where the tones lie: in the wheel, or in the checkout."""
    packaged = Path(str(files("coach"))) / "_sounds"
    return packaged if packaged.is_dir() else Path(__file__).parents[2] / "sounds"


def tone_path(name: str) -> Path:
    """The file of one tone."""
    return sounds_folder() / f"{name}.wav"


def main(arguments: list[str]) -> None:
    """Write every tone."""
    folder = Path(arguments[0]) if arguments else sounds_folder()
    for name, (notes, lasts_s) in TONES.items():
        write_wave(folder / f"{name}.wav", tone(notes, lasts_s))


if __name__ == "__main__":
    main(sys.argv[1:])
