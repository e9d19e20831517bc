"""The one app: runs a flow by pushing screens, from switching on to good night.

What every screen shares is here once: the looks, the owner's own keys, the voice, the watchdog and
the signals. A step of a flow becomes a screen in ``coach.screens.step_screens``; a session has a
driver of its own, ``coach.screens.session_driver``.
"""

import asyncio
import datetime
import signal
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from typing import TypeVar

from coach.appliance.notify import Watchdog, from_environment
from coach.bedside.flow import Coach, Fault, Flow, Gone, Step, Tell
from coach.screens.base_app import LastingApp
from coach.screens.session_driver import SessionDriver
from coach.screens.step_screens import Tools, screens_for
from coach.screens.themes import LOOKS
from coach.screens.work_screen import JobFault

T = TypeVar("T")

ALIVE_S = 0.5
TEND_S = 0.1
# The browser that showed the session is gone.
PAUSING_SIGNAL = signal.SIGUSR1


def local_now() -> datetime.datetime:
    """The clock on the wall."""
    return datetime.datetime.now().astimezone()


class EveningApp(LastingApp[T], inherit_bindings=False):
    """Runs ``flow`` on the screen; returns what it returns, None when it was closed from outside.

    Args:
        flow: what happens.
        look: one of ``LOOKS``.
        keys: the keys of an action by its id, where the owner has others.
        wall: the clock on the wall.
        mono_ns: monotonic time, for what keys mean.
        say: speaks a sentence instead of what is being said, "" is quiet; None says nothing.
        tend: called again and again while no session runs, for the voice.
        watchdog: is told again and again that the screen is alive.
    """

    # All at once: a sheet loaded with its screen would delay what the owner sees of a stop.
    CSS_PATH = [  # noqa: RUF012  (the framework's own form)
        "session.tcss",
        "session_page.tcss",
        "ask.tcss",
    ]

    def __init__(
        self,
        flow: Flow[T],
        *,
        look: str = "dark",
        keys: Mapping[str, tuple[str, ...]] | None = None,
        wall: Callable[[], datetime.datetime] = local_now,
        mono_ns: Callable[[], int] = time.monotonic_ns,
        say: Callable[[str], None] | None = None,
        tend: Callable[[], None] | None = None,
        watchdog: Watchdog | None = None,
    ) -> None:
        super().__init__(look=look)
        self._flow = flow
        self._wall = wall
        self._mono_ns = mono_ns
        self._say = say
        self._tend = tend
        self._watchdog = watchdog or from_environment()
        self._session: SessionDriver | None = None
        self._over = False
        self._failure: BaseException | None = None
        self.set_keymap({action: ",".join(names) for action, names in (keys or {}).items()})

    def on_mount(self) -> None:
        """Begin."""
        asyncio.get_running_loop().add_signal_handler(PAUSING_SIGNAL, self.pause_from_outside)
        self._watchdog.begin()
        self.set_interval(ALIVE_S, self._alive)
        if self._tend is not None:
            self.set_interval(TEND_S, self._tend_voice)
        self._go_on(None)

    def on_unmount(self) -> None:
        """Give the signal back."""
        self._watchdog.end()
        asyncio.get_running_loop().remove_signal_handler(PAUSING_SIGNAL)
        # Not its default, which would end the program between two screens.
        signal.signal(PAUSING_SIGNAL, signal.SIG_IGN)
        if self._session is None and not self._over:
            # Whoever ended the app without a signal: what the flow holds is let go.
            self._over = True
            self._flow.close()

    def next_look(self) -> None:
        """Another of the looks."""
        self.theme = LOOKS[(LOOKS.index(self.theme) + 1) % len(LOOKS)]

    def beat(self) -> None:
        """Let a session do what is due, then show it."""
        if self._session is not None:
            self._session.beat()

    # The flow

    def _go_on(self, answer: object) -> None:
        """Give the flow its answer and do the step that it yields."""
        if self._over:
            return
        try:
            fault = answer.error if isinstance(answer, JobFault) else None
            step = self._flow.send(answer) if fault is None else self._flow.throw(fault)
        except StopIteration as end:
            self._over = True
            self.exit(end.value)
            return
        except Exception as error:  # noqa: BLE001  (raised again by run)
            # Not swallowed: whoever runs the app raises it, once the terminal is as it was.
            self._over, self._failure = True, error
            self.exit()
            return
        self._do(step)

    def _do(self, step: Step) -> None:
        if isinstance(step, Coach):
            self._session = SessionDriver(
                step.runner,
                app=self,
                done=self._coached,
                wall=self._wall,
                mono_ns=self._mono_ns,
                watchdog=self._watchdog,
                afterwards=step.after,
                say=self._say,
                next_look=self.next_look,
            )
            self._session.begin()
            return
        tools = Tools(wall=self._wall, mono_ns=self._mono_ns, say=self._say, look=self.next_look)
        screens = screens_for(step, tools)

        def following(given: object) -> None:
            for screen in screens:
                self.push_screen(screen, following)
                return
            self._go_on(None if isinstance(step, Tell) else given)

        following(None)

    def _coached(self, phase: object) -> None:
        self._session = None
        self._go_on(phase)

    def _end_flow(self) -> None:
        """Nobody is there any more: the flow writes down what it holds."""
        if self._over:
            return
        self._over = True
        session, self._session = self._session, None
        try:
            if session is not None:
                # How the session ended is an answer still.
                self._flow.send(session.close_from_outside())
            self._flow.throw(Gone())
        except StopIteration as end:
            self.exit(end.value)
        except Gone:
            self.exit()
        else:
            self._flow.close()
            self.exit()

    # What goes on beside it

    def _alive(self) -> None:
        # A session tells it with each beat, when all of that came to its end.
        if self._session is None:
            self._watchdog.beat()

    def _tend_voice(self) -> None:
        if self._session is None and self._tend is not None:
            self._tend()

    def pause_from_outside(self) -> None:
        """A signal: nobody sees the screen; count nothing until somebody is back."""
        if self._session is not None:
            self._session.pause_from_outside()

    def close_from_outside(self) -> None:
        """A signal: stop, write it down, leave."""
        self._end_flow()

    def after_run(self) -> None:
        """Raise what went wrong in the flow; let a flow that lost its screen know."""
        if self._failure is not None:
            raise self._failure
        if self.return_code and not self._over:
            # The framework has told the fault.
            self._over = True
            with suppress(StopIteration):
                self._flow.throw(Fault("the screen has failed"))
            raise Fault("the screen has failed")


def run(app: EveningApp[T]) -> T | None:
    """Run it; what its flow returned, None when it was closed from outside."""
    given = app.run()
    app.after_run()
    return given
