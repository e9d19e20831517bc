"""How the American voice of espeak-ng says the words that were misheard most. Pure.

By itself it makes no pause in which a "p", "t" or "k" could be heard to open, so that "spot" was
taken for "part" and "forty" for "for the"; and its "z" and "d" are short. What stands here instead
was chosen by trial, each against others, with the ear of ``python -m tests.voice.open_ears``. In
``[[ ]]`` are espeak-ng's own codes for sounds: ``_`` is a short pause, a letter twice a longer
sound. Another voice has other sounds, and is left alone.
"""

import re
from collections.abc import Mapping

AMERICAN = "gmw/en-US"

SOUNDS: Mapping[str, str] = {
    "at": "a_t_",
    "dip": "dd'Ip",
    "forty": "f'O@_ti:",
    "knee": "n'i:_",
    "laser": "l'eIzz3",
    "of": "Vv_",
    "spot": "s_p'0t",
}
TENS = ("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
ONES = ("", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")

# Not where 's follows: it would be spelled.
_WORD = re.compile(rf"\b(?:{'|'.join(SOUNDS)})\b(?!['’]\w)", re.IGNORECASE)
# A number of two figures that stands alone: no part of a time, a date or a fraction.
_NUMBER = re.compile(r"(?<![\d.,:/-])[2-9]\d(?![\d:/%-]|[.,]\d)")


def pronounced(text: str, voice: str) -> str:
    """``text`` as espeak-ng's ``voice`` shall read it, with sounds in ``[[ ]]``."""
    # Nothing that a person wrote is taken for sounds.
    plain = text.replace("[", "(")
    if voice.partition("+")[0] != AMERICAN:
        return plain
    words = _NUMBER.sub(lambda found: _number(found[0]), plain)
    return _WORD.sub(lambda found: f"[[{SOUNDS[found[0].lower()]}]]", words)


def _number(figures: str) -> str:
    """``figures`` in words where one of them has sounds of its own."""
    tens, ones = TENS[int(figures[0]) - 2], ONES[int(figures[1])]
    return f"{tens} {ones}".rstrip() if {tens, ones} & SOUNDS.keys() else figures
