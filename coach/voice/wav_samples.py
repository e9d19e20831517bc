"""Mono 16-bit sound as ``array('h')``: read, write, trim, fade, level. No numpy: it would cost
70 MB and a slow start for four loops, which the iterators of the standard library run fast enough.
"""

import math
import os
import wave
from array import array
from itertools import accumulate
from operator import mul
from pathlib import Path

RATE_HZ = 22_050
FULL = 32_767


def read_wave(path: Path) -> "array[int]":
    """The samples of a mono 16-bit WAV at RATE_HZ. Raises ValueError or OSError otherwise."""
    try:
        with wave.open(str(path), "rb") as file:
            form = (file.getnchannels(), file.getsampwidth(), file.getframerate())
            if form != (1, 2, RATE_HZ):
                raise ValueError(f"{path}: {form} is not mono, 16 bit, {RATE_HZ} Hz")
            return array("h", file.readframes(file.getnframes()))
    except (wave.Error, EOFError) as error:
        raise ValueError(f"{path}: no WAV file ({error})") from error


def write_wave(path: Path, samples: "array[int]") -> None:
    """Write whole or not at all."""
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        with wave.open(str(part), "wb") as file:
            file.setnchannels(1)
            file.setsampwidth(2)
            file.setframerate(RATE_HZ)
            file.writeframes(samples.tobytes())
        part.replace(path)
    except OSError:
        part.unlink(missing_ok=True)
        raise


def seconds(samples: "array[int]") -> float:
    """How long it sounds."""
    return len(samples) / RATE_HZ


def trimmed(samples: "array[int]", *, floor: int = 120, keep_s: float = 0.03) -> "array[int]":
    """Without the silence before and after: espeak-ng leaves half a second of it."""
    first = next((n for n, value in enumerate(samples) if abs(value) > floor), None)
    if first is None:
        return array("h")
    last = len(samples) - next(n for n, v in enumerate(reversed(samples)) if abs(v) > floor)
    keep = round(keep_s * RATE_HZ)
    return samples[max(0, first - keep) : last + keep]


def faded(samples: "array[int]", *, fade_s: float = 0.015) -> "array[int]":
    """With soft edges, so that nothing clicks."""
    result = array("h", samples)
    length = min(round(fade_s * RATE_HZ), len(result) // 2)
    for n in range(length):
        result[n] = round(result[n] * n / length)
        result[-1 - n] = round(result[-1 - n] * n / length)
    return result


def rms_dbfs(samples: "array[int]") -> float:
    """Level over the whole, in dB below full scale; -inf for silence."""
    if not samples:
        return -math.inf
    mean = sum(map(mul, samples, samples)) / len(samples)
    return 10 * math.log10(mean / FULL**2) if mean else -math.inf


def leveled(samples: "array[int]", *, rms_db: float = -23.0, peak_db: float = -6.0) -> "array[int]":
    """Scaled to the level, but with no peak above ``peak_db``."""
    now = rms_dbfs(samples)
    if now == -math.inf:
        return samples
    gain = 10 ** ((rms_db - now) / 20)
    peak = max(max(samples), -min(samples))
    return scaled(samples, min(gain, FULL * 10 ** (peak_db / 20) / peak))


def softened(samples: "array[int]", *, cutoff_hz: float = 5_000.0) -> "array[int]":
    """A gentle one-pole low-pass: raw espeak-ng is shrill."""
    share = 1 - math.exp(-2 * math.pi * cutoff_hz / RATE_HZ)
    smooth = accumulate(samples, lambda state, value: state + share * (value - state), initial=0.0)
    next(smooth)
    return array("h", map(round, smooth))


def scaled(samples: "array[int]", gain: float) -> "array[int]":
    """Louder or softer, clipped at full scale."""
    return array("h", (max(-FULL, min(FULL, round(value * gain))) for value in samples))
