"""The same flows line by line, on text streams: for screen readers, pipes, and ``--plain``."""

from dataclasses import dataclass, field
from typing import Any, TextIO, TypeVar

from coach.bedside.flow import Ask, Coach, Flow, Gone, Page, Pressed, Show, Step, Tell, Work
from coach.language import _
from coach.lines.line_mode import Keyboard, PlainCoach, Typed, Words, ask_plainly
from coach.session.questions import Asking

T = TypeVar("T")


@dataclass(slots=True)
class LinesDriver:
    """Runs a flow; ``attended`` says whether somebody is there who can answer."""

    words: Words
    out: TextIO
    attended: bool = True
    _lines: list[str] = field(default_factory=list)
    _gone: bool = False

    def run(self, flow: Flow[T]) -> T | None:
        """What the flow returns; None when nobody was there any more."""
        try:
            step = next(flow)
            while True:
                try:
                    answer = self._do(step)
                except Exception as error:  # noqa: BLE001  (the flow decides, and raises it again)
                    step = flow.throw(error)
                else:
                    step = flow.send(answer)
        except StopIteration as end:
            given: T | None = end.value
            return given
        except Gone:
            return None

    def _do(self, step: Step) -> Any:
        match step:
            case Ask():
                return self._ask(step)
            case Tell():
                for line in step.lines:
                    self._tell(line)
                return None
            case Show():
                return self._show(step.page)
            case Work():
                self._tell(step.text)
                return step.job(lambda done, of: None)
            case Coach():
                return self._coach(step)

    def _ask(self, step: Ask) -> Asking:
        answered, there = ask_plainly(step.asking, step.keep, self._next_line, self._tell)
        if not there and self.attended:
            raise Gone
        return answered

    def _show(self, page: Page) -> Pressed:
        for line in page.lines():
            self._tell(line)
        shown = [key for key in page.keys if key.label]
        if not shown:
            return Pressed(page.keys[0].id)
        for key in shown[1:]:
            self._tell(_("{key}: {answer}.").format(key=key.key, answer=key.label))
        self._tell(_("Enter: {answer}").format(answer=shown[0].label))
        while True:
            typed = self._next_line()
            if typed is None and self.attended:
                raise Gone
            words = (typed or "").strip().casefold()
            for key in shown:
                if words in (key.key.casefold(), key.label.casefold(), key.id):
                    return Pressed(key.id)
            if not words:
                return Pressed(shown[0].id)
            self._tell(_("That key means nothing here."))

    def _coach(self, step: Coach) -> Any:
        coach = PlainCoach(step.runner, self.words, out=self.out, afterwards=step.after)
        coach._lines = self._lines
        coach.run()
        self._gone = coach.closed
        return step.runner.machine.phase

    def _next_line(self) -> str | None:
        """What is typed next; None when nobody is left to type."""
        while not self._lines and not self._gone:
            typed = self.words.wait(None)
            self._lines += typed.lines
            self._gone = typed.closed or typed.ended
        return self._lines.pop(0) if self._lines else None

    def _tell(self, text: str) -> None:
        print(text, file=self.out, flush=True)


def run_in_lines(flow: Flow[T], *, typed: TextIO, out: TextIO, attended: bool) -> T | None:
    """Run a flow on a terminal or pipe."""
    try:
        fd = typed.fileno()
    except OSError:
        # A stream without a file: whoever embeds the program.
        return LinesDriver(StreamWords(typed), out, attended=attended).run(flow)
    with Keyboard(fd) as keyboard:
        return LinesDriver(keyboard, out, attended=attended).run(flow)


@dataclass(slots=True)
class StreamWords:
    """Lines of a stream, each when it is wanted."""

    stream: TextIO

    def wait(self, timeout_s: float | None) -> Typed:
        """The next line, or the end."""
        if timeout_s is not None:
            return Typed()
        line = self.stream.readline()
        return Typed(lines=(line.rstrip("\n"),)) if line else Typed(ended=True)

    def forget(self) -> bool:
        """Nothing is typed ahead here."""
        return False
