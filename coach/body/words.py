"""The region that a word of the trade or of an owner means: pure, but for the packaged data."""

import re
import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from types import MappingProxyType

from coach.body.regions import regions, told
from coach.language import language


class SynonymFileError(ValueError):
    """The file of synonyms is wrong; the message names what is."""


def region_for(word: str) -> str | None:
    """The key of the region that ``word`` means, whichever way it is written; None for none."""
    return region_words(language()).get(plain_word(word))


@cache
def region_words(_language: str) -> Mapping[str, str]:
    """Keys of regions by every word for them, plainly written, in every language known.

    What the program itself prints comes first: its keys, terms, short forms and owners' words.
    """
    found: dict[str, str] = {}
    for key in regions():
        found[plain_word(key)] = key
    for key, place in regions().items():
        for region in (place, told(key)):
            for word in (region.term, region.owner_words, region.spoken, region.block):
                found.setdefault(plain_word(word), key)
                # "lumbar spine, L1-L7" is also "lumbar spine".
                found.setdefault(plain_word(re.split("[,(]", word)[0]), key)
    for key, words in synonyms().items():
        for word in words:
            found.setdefault(plain_word(word), key)
    return MappingProxyType(found)


@cache
def synonyms() -> Mapping[str, tuple[str, ...]]:
    """Other words for each region, English and German."""
    text = (files("coach.body") / "synonyms.toml").read_text(encoding="utf-8")
    tables = tomllib.loads(text)
    strange = [key for key in tables if key not in regions()]
    if strange:
        raise SynonymFileError(f"synonyms.toml: no such region: {', '.join(strange)}")
    return {key: (*words["en"], *words["de"]) for key, words in tables.items()}


def plain_word(word: str) -> str:
    """Small letters, and one blank for hyphens, dashes, underscores and blanks."""
    return re.sub(r"[\s_\-\u2010-\u2015]+", " ", word.casefold()).strip()
