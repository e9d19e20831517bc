"""The voice as the owner wants it, with its rendered speech in the cache folder."""

from coach.paths import cache_folder
from coach.voice.child_voice import SpokenVoice
from coach.voice.render import Cache, VoiceSettings
from coach.voice.settings import VoiceWishes


def spoken_voice(wishes: VoiceWishes) -> SpokenVoice:
    """The voice as the owner wants it."""
    made_with = VoiceSettings(
        voice=wishes.voice,
        rate_wpm=wishes.rate_wpm,
        word_gap=wishes.word_gap,
        pitch=wishes.pitch,
    )
    cache = Cache(cache_folder() / "speech", made_with)
    return SpokenVoice(cache, gain=wishes.gain, lead_in_ns=wishes.lead_in_ms * 1_000_000)
