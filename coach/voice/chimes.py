"""Makes the tones in ``sounds/``: ``python -m coach.voice.chimes [FOLDER]``.

Dogs mind high, intermittent sounds (Grigg et al. 2021, Front Vet Sci). So each tone is low, soft
and single: 196 to 330 Hz, raised-cosine attack, long decay, hardly anything above 1 kHz. That it
is low and soft is our choice; the source gives no limits.
"""

import math
import sys
from array import array
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

from coach.voice.wav_samples import FULL, RATE_HZ, write_wave

ATTACK_S = 0.08
OCTAVE = 0.15


@dataclass(frozen=True, slots=True, kw_only=True)
class Chime:
    """``notes`` as (begins_s, frequency_hz); ``peak`` of one note as a share of full scale."""

    notes: tuple[tuple[float, float], ...]
    lasts_s: float
    peak: float


# Start rises, end falls, pause is one low note. The peaks make them equally loud (BS.1770).
CHIMES = {
    "start": Chime(notes=((0.0, 261.63), (0.18, 329.63)), lasts_s=1.2, peak=0.175),
    "end": Chime(notes=((0.0, 329.63), (0.22, 220.0)), lasts_s=1.4, peak=0.165),
    "pause": Chime(notes=((0.0, 196.0),), lasts_s=1.2, peak=0.25),
}


def samples_of(chime: Chime) -> "array[int]":
    """Every note swells in and dies away to nothing."""
    samples = array("h", bytes(2 * round(chime.lasts_s * RATE_HZ)))
    for begins_s, frequency_hz in chime.notes:
        first = round(begins_s * RATE_HZ)
        lasts_s = chime.lasts_s - begins_s
        for n in range(first, len(samples)):
            t = (n - first) / RATE_HZ
            swell = 0.5 - 0.5 * math.cos(math.pi * min(1.0, t / ATTACK_S))
            decay = math.exp(-4.0 * t / lasts_s) * min(1.0, (lasts_s - t) / 0.1)
            # A trace of the octave lets small loudspeakers carry the note.
            turn = 2 * math.pi * frequency_hz * t
            wave = math.sin(turn) + OCTAVE * math.sin(2 * turn)
            samples[n] += round(FULL * chime.peak * swell * decay * wave)
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
    for name, chime in CHIMES.items():
        write_wave(folder / f"{name}.wav", samples_of(chime))


if __name__ == "__main__":
    main(sys.argv[1:])
