"""Rendered speech on disk, made by a child process, found again by what went into it."""

import hashlib
import json
import subprocess
import sys
from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

Progress = Callable[[int, int], None]

# Part of the key: raise it when the sound that is made of the same words changes.
PROCESSING = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class VoiceSettings:
    """How it speaks. The defaults were understood best in a round trip through recognisers."""

    voice: str = "gmw/en-US+m3"
    rate_wpm: int = 140
    word_gap: int = 3
    pitch: int = 50


class Cache:
    """WAV files in ``folder``, one a text and setting."""

    def __init__(self, folder: Path, settings: VoiceSettings | None = None) -> None:
        self.folder = folder
        self.settings = settings or VoiceSettings()
        self._made_by = f"{_version('pyttsx3')}/{_version('espeakng-loader')}/{PROCESSING}"

    def path(self, text: str) -> Path:
        """Where the speech of ``text`` is or will be."""
        made_of = json.dumps([text, asdict(self.settings), self._made_by])
        return self.folder / f"{hashlib.sha256(made_of.encode()).hexdigest()[:32]}.wav"

    def render(self, texts: Iterable[str], progress: Progress | None = None) -> dict[str, str]:
        """Make what is missing; returns the texts that could not be made, with the reason."""
        missing = [text for text in dict.fromkeys(texts) if text and not self.path(text).exists()]
        if not missing:
            return {}
        try:
            self.folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            return self._by_child(missing, progress)
        except OSError as error:
            return dict.fromkeys(missing, str(error))

    def _by_child(self, missing: list[str], progress: Progress | None) -> dict[str, str]:
        problems: dict[str, str] = {}
        child = subprocess.Popen(  # noqa: S603  (our own module)
            [sys.executable, "-m", "coach.voice.render_child", json.dumps(asdict(self.settings))],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
            encoding="utf-8",
        )
        with child:
            assert child.stdin is not None
            assert child.stdout is not None
            first = _answer(child.stdout.readline())
            if first.get("engine") is None:
                child.stdin.close()
                return dict.fromkeys(missing, first.get("problem") or "no speech engine")
            for number, text in enumerate(missing, start=1):
                order = {"text": text, "path": str(self.path(text))}
                try:
                    child.stdin.write(json.dumps(order) + "\n")
                    child.stdin.flush()
                    answer = _answer(child.stdout.readline())
                except BrokenPipeError:
                    answer = {}
                if not answer:
                    # The child died of this text (libespeak-ng can): try the rest afresh.
                    child.kill()
                    rest = missing[number:]
                    problems[text] = "the speech engine died"
                    return problems | (self._by_child(rest, progress) if rest else {})
                if answer["problem"] is not None:
                    problems[text] = answer["problem"]
                if progress is not None:
                    progress(number, len(missing))
            child.stdin.close()
        return problems


def _answer(line: str) -> dict[str, str | None]:
    if not line:
        return {}
    answer: dict[str, str | None] = json.loads(line)
    return answer


def _version(package: str) -> str:
    try:
        return version(package)
    except PackageNotFoundError:
        return "none"
