"""Rendered speech on disk, made by a child process, found again by what went into it."""

import hashlib
import json
import queue
import subprocess
import threading
from collections.abc import Callable, Iterable, Mapping
from dataclasses import asdict, dataclass, replace
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from coach.voice.children import start_child
from coach.voice.natural import NATURAL

Progress = Callable[[int, int], None]

# Part of the key: raise it when the sound that is made of the same words changes.
PROCESSING = 5

# Also part of the key: what speaks, where it is not espeak-ng.
ENGINES: Mapping[str, tuple[str, ...]] = {NATURAL: ("hibari-tts", "onnxruntime")}

DIED = "the speech engine died"
# A cue takes some hundredths of a second, starting up a second or two on a slow board.
ANSWER_WITHIN_S = 20.0


# The calm opening is spoken at so much of the usual rate. Common practice, no source.
CALM_PERCENT = 85


@dataclass(frozen=True, slots=True, kw_only=True)
class VoiceSettings:
    """How it speaks. The defaults were understood best in a round trip through recognisers."""

    voice: str = "gmw/en-US+m3"
    rate_wpm: int = 140
    word_gap: int = 3
    pitch: int = 50


class Renderer:
    """One rendering process. When a text kills it, that text fails and a new one is started."""

    def __init__(self, settings: VoiceSettings) -> None:
        self._settings = settings
        self._child: subprocess.Popen[bytes] | None = None
        self._lock = threading.Lock()
        self._closed = False
        self._hopeless: str | None = None

    def make(self, text: str, path: Path, *, rate_wpm: int | None = None) -> str | None:
        """Speak ``text`` into ``path``; why not, if it cannot be done. Never raises for that.

        ``rate_wpm`` is for this text alone, else that of the settings.
        """
        try:
            child = self._running()
            if isinstance(child, str):
                return child
            assert child.stdin is not None
            rate = rate_wpm or self._settings.rate_wpm
            order = json.dumps({"text": text, "path": str(path), "rate_wpm": rate}) + "\n"
            child.stdin.write(order.encode())
            answer = _answer(child)
        except BrokenPipeError:
            answer, problem = None, DIED
        except OSError as error:
            answer, problem = None, str(error)
        else:
            problem = DIED
        if answer is not None:
            return answer["problem"]
        self._end()
        return problem

    def _running(self) -> "subprocess.Popen[bytes] | str":
        if self._hopeless is not None:
            return self._hopeless
        if self._child is not None:
            return self._child
        with self._lock:
            if self._closed:
                return "closed"
            child = self._child = start_child(
                "coach.voice.render_child", json.dumps(asdict(self._settings))
            )
        hello = _answer(child)
        if hello is None or hello["engine"] is None:
            self._end()
            self._hopeless = (hello or {}).get("problem") or "the speech engine does not start"
            return self._hopeless
        return child

    def _end(self) -> None:
        with self._lock:
            child, self._child = self._child, None
        if child is not None:
            child.kill()
            child.wait()
            for pipe in (child.stdin, child.stdout):
                if pipe is not None:
                    pipe.close()

    def close(self) -> None:
        """End the process. May be called from another thread than ``make``, which then fails."""
        with self._lock:
            self._closed = True
            if self._child is not None:
                self._child.kill()

    def __enter__(self) -> "Renderer":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()
        self._end()


def _answer(child: "subprocess.Popen[bytes]") -> dict[str, str | None] | None:
    """The next line of the child, or None when it has died or hangs (then it is killed)."""
    assert child.stdout is not None
    watchdog = threading.Timer(ANSWER_WITHIN_S, child.kill)
    watchdog.daemon = True
    watchdog.start()
    try:
        line = child.stdout.readline()
    finally:
        watchdog.cancel()
    if not line.endswith(b"\n"):
        return None
    answer: dict[str, str | None] = json.loads(line)
    return answer


class Cache:
    """WAV files in ``folder``, one a text and setting. The texts in ``calm`` are spoken slower."""

    def __init__(self, folder: Path, settings: VoiceSettings | None = None) -> None:
        self.folder = folder
        self.calm: frozenset[str] = frozenset()
        self.settings = settings or VoiceSettings()
        packages = ENGINES.get(self.settings.voice, ("pyttsx3", "espeakng-loader"))
        self._made_by = "/".join([*map(_version, packages), str(PROCESSING)])

    def path(self, text: str) -> Path:
        """Where the speech of ``text`` is or will be."""
        settings = replace(self.settings, rate_wpm=self._rate_wpm(text))
        made_of = json.dumps([text, asdict(settings), self._made_by])
        return self.folder / f"{hashlib.sha256(made_of.encode()).hexdigest()[:32]}.wav"

    def _rate_wpm(self, text: str) -> int:
        usual = self.settings.rate_wpm
        return usual * CALM_PERCENT // 100 if text in self.calm else usual

    def render(self, texts: Iterable[str], progress: Progress | None = None) -> dict[str, str]:
        """Make what is missing; returns the texts that could not be made, with the reason."""
        missing = [text for text in dict.fromkeys(texts) if text and not self.path(text).exists()]
        problems: dict[str, str] = {}
        if not missing:
            return problems
        with Renderer(self.settings) as renderer:
            for number, text in enumerate(missing, start=1):
                problem = self.render_one(renderer, text)
                if problem is not None:
                    problems[text] = problem
                if progress is not None:
                    progress(number, len(missing))
        return problems

    def render_one(self, renderer: Renderer, text: str) -> str | None:
        """Make one; why not, if it cannot be done."""
        try:
            self.folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        except OSError as error:
            return str(error)
        return renderer.make(text, self.path(text), rate_wpm=self._rate_wpm(text))


class BackgroundRenderer:
    """Renders in a thread of its own what nobody foresaw, so that the caller never waits."""

    def __init__(self, cache: Cache) -> None:
        self._cache = cache
        self._renderer = Renderer(cache.settings)
        self._wanted: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        self._done: queue.SimpleQueue[tuple[str, str | None]] = queue.SimpleQueue()
        self._thread: threading.Thread | None = None

    def want(self, text: str) -> None:
        """Ask for ``text``; returns at once."""
        if self._thread is None:
            self._thread = threading.Thread(target=self._work, daemon=True)
            self._thread.start()
        self._wanted.put(text)

    def done(self) -> list[tuple[str, str | None]]:
        """What has been finished since the last call: text, and why not if it failed."""
        finished = []
        while True:
            try:
                finished.append(self._done.get_nowait())
            except queue.Empty:
                return finished

    def close(self) -> None:
        """End thread and process."""
        if self._thread is not None:
            self._renderer.close()
            self._wanted.put(None)
            self._thread.join(ANSWER_WITHIN_S)

    def _work(self) -> None:
        with self._renderer:
            while (text := self._wanted.get()) is not None:
                known = self._cache.path(text).exists()
                problem = None if known else self._cache.render_one(self._renderer, text)
                if problem == DIED:
                    # Perhaps not for these words: somebody may have ended it.
                    problem = self._cache.render_one(self._renderer, text)
                self._done.put((text, problem))


def _version(package: str) -> str:
    try:
        return version(package)
    except PackageNotFoundError:
        return "none"
