"""What a session speaks with and hears by."""

import argparse
import sys
import time
from dataclasses import replace
from typing import TYPE_CHECKING

from coach.language import ENGLISH, _, ngettext

if TYPE_CHECKING:
    from coach.plan.model import Plan
    from coach.plan.spots import SessionSpots
    from coach.session.machine import Options
    from coach.voice.listener import Ear
    from coach.voice.settings import VoiceWishes
    from coach.voice.voice_port import Voice


def open_ear(voice: "Voice") -> "Ear":
    """An ear that is told what ``voice`` plays, so that it can hear the owner over it."""
    from coach.voice.child_voice import SpokenVoice
    from coach.voice.listener import ListeningEar

    ear = ListeningEar()
    ear.start()
    if isinstance(voice, SpokenVoice):
        voice.on_sound = ear.plays
    return ear


def texts_for(plan: "Plan", session: "SessionSpots", options: "Options") -> list[str]:
    from coach.plan.spots import spots_of
    from coach.screens import spoken_help
    from coach.session import signals as signs
    from coach.session import went_wrong
    from coach.session.cues import every_text

    # The whole plan too: a session that was cut off may have had more spots than today's.
    texts = [
        text
        for spots in (session.spots, spots_of(plan))
        for text in every_text(
            spots, laser_button=options.laser_button, owner_sits=options.owner_sits
        )
    ]
    texts += [tip for _index, tip in options.tips]
    about = plan.about
    texts += went_wrong.every_sentence(name=about.prescriber, phone=about.phone)
    return list(dict.fromkeys([*texts, *signs.every_sentence(), *spoken_help.every_sentence()]))


def voice_for(
    args: argparse.Namespace, texts: list[str], wishes: "VoiceWishes", calm: frozenset[str]
) -> "Voice":
    from coach.cli.voice import spoken_voice
    from coach.voice.file_voice import RecordedVoice
    from coach.voice.natural import NATURAL
    from coach.voice.settings import USUAL
    from coach.voice.voice_port import SilentVoice

    if args.silent:
        return SilentVoice()
    spoken = spoken_voice(wishes)
    spoken.cache.calm = calm
    voice: Voice = spoken
    if args.record_voice:
        voice = RecordedVoice(args.record_voice, spoken.cache, time.monotonic_ns)

    def progress(done: int, of: int) -> None:
        if sys.stdout.isatty():
            told = _("Preparing the voice: {done} of {of}").format(done=done, of=of)
            print(f"\r{told}", end="\n" * (done == of), flush=True)

    unspoken = voice.prepare(texts, progress)
    if wishes.voice == NATURAL and unspoken.keys() >= set(texts):
        # It cannot run on this computer. A record is begun anew as well.
        voice.close()
        print(_("The natural voice does not start here: the other one speaks."), flush=True)
        return voice_for(args, texts, replace(wishes, voice=USUAL[ENGLISH].voice), calm)
    if unspoken:
        told = ngettext(
            "{count} cue cannot be spoken and will only be shown.",
            "{count} cues cannot be spoken and will only be shown.",
            len(unspoken),
        )
        print(told.format(count=len(unspoken)), flush=True)
    return voice
