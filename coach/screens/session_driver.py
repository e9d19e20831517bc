"""A session on the screens of the app: keys and taps in, its views out. It decides nothing itself.

Longer than other files on purpose: keys, taps, signals and the beat pass the same few guards, which
have to be seen together.
"""

import datetime
from collections.abc import Callable, Sequence
from functools import partial
from typing import Any

from textual.app import App
from textual.screen import Screen
from textual.timer import Timer

from coach.appliance.notify import Watchdog
from coach.bedside.port import Afterwards, Session
from coach.language import _
from coach.screens import session_text, spoken_help
from coach.screens.actions import BY_ID, REASONS, Action
from coach.screens.ask import AskScreen
from coach.screens.emergency_screen import EmergencyScreen
from coach.screens.end import EndScreen
from coach.screens.help import HelpScreen
from coach.screens.key_bar_layout import Tap
from coach.screens.key_debounce import OnePress
from coach.screens.readiness_screen import RoundScreen
from coach.screens.redraw_timing import BEAT_S, next_second_s
from coach.screens.session import SessionScreen
from coach.screens.session_layout import Moment, coarse, taps_of
from coach.screens.session_page import PageScreen
from coach.screens.session_screen_base import CoachScreen
from coach.screens.signs_screen import UnhappyScreen
from coach.screens.skip import SkipScreen
from coach.screens.start_screen import ReadyScreen
from coach.screens.step_scanning import Stepping
from coach.screens.which_screen import asked, held, stage
from coach.session import commands as cmd
from coach.session import went_wrong
from coach.session.cues import STOPPED
from coach.session.machine import OVER, Phase
from coach.session.questions import Asking
from coach.session.readiness import Prompt
from coach.session.readiness_timing import read_ns
from coach.session.view import View
from coach.units import NS_PER_S

TOLD_NS = 4 * NS_PER_S
# A page of questions is there at least so long before a tap answers a line of it.
READ_NS = 6 * NS_PER_S // 10


class SessionDriver:
    """Runs ``session`` on the screens of ``app``.

    Args:
        session: what to drive.
        app: pushes the screens.
        done: is given the phase in which the session was left.
        wall: the clock on the wall, for the time at which the session will end.
        mono_ns: monotonic time, for what keys mean and messages that pass.
        watchdog: is told at each beat that the screen is alive.
        afterwards: what is asked once the session is over; None asks nothing.
        say: speaks a sentence, for the questions; None says nothing.
        next_look: changes to another look.
    """

    def __init__(
        self,
        session: Session,
        *,
        app: App[Any],
        done: Callable[[Phase], None],
        wall: Callable[[], datetime.datetime],
        mono_ns: Callable[[], int],
        watchdog: Watchdog,
        afterwards: Afterwards | None = None,
        say: Callable[[str], None] | None = None,
        next_look: Callable[[], None] = lambda: None,
    ) -> None:
        self._app = app
        self._done = done
        self._next_look = next_look
        self._coached = session
        self._wall = wall
        self._mono_ns = mono_ns
        self._watchdog = watchdog
        self._afterwards = afterwards
        self._say = say
        self._opening = session.opening()
        self._refusal = ""
        self._refused_ns = 0
        self._prompted_ns = 0
        self._hand = OnePress(self._do, mono_ns=mono_ns, later=app.set_timer)
        self._steps = Stepping(mono_ns)
        self._next_beat: Timer | None = None
        self._shown_changes = -1
        self._shown_until_ns = 0
        self._before: View | None = None
        self._base: CoachScreen | None = None
        self._stage = ""
        self._read_out: tuple[str, ...] = ()
        self._left = False

    def begin(self) -> None:
        """Begin to beat."""
        self._hand.anew()
        self.beat()

    @property
    def _screen(self) -> Screen[Any]:
        return self._app.screen

    # Time

    def beat(self) -> None:
        """Let the session do what is due, then show it."""
        self._shown_until_ns = 0
        self._wake()

    def _wake(self) -> None:
        """The same, but what would look as before is not even put together."""
        if self._left or not self._app.is_running:
            # Closing: the screens may be gone before this timer is.
            return
        self._hand.beat()
        chosen = self._steps.due()
        if chosen:
            self._take(chosen)
            self._shown_until_ns = 0
        self._carry_on_alone()
        self._coached.tick()
        if self._coached.changes != self._shown_changes or self._mono_ns() >= self._shown_until_ns:
            self._show()
        self._sleep()
        # Last: it tells that all of the above came to its end.
        self._watchdog.beat()

    def _sleep(self) -> None:
        """Until there is something to do, to hear or to show: rarely, for a small computer."""
        shown_s = (self._shown_until_ns - self._mono_ns()) / NS_PER_S
        due_ns = self._steps.due_ns
        alone_s = None if due_ns is None else (due_ns - self._mono_ns()) / NS_PER_S
        times_s = (shown_s, self._coached.next_deadline_s(), self._coached.poll_s, alone_s)
        wait_s = min(time_s for time_s in times_s if time_s is not None)
        if self._next_beat is not None:
            self._next_beat.stop()
        self._next_beat = self._app.set_timer(max(0.001, wait_s), self._wake)

    def _show(self) -> None:
        self._shown_changes = self._coached.changes
        view = self._coached.view()
        before, self._before = self._before, view
        if before is None or asked(before) != asked(view):
            self._prompted_ns = self._mono_ns()
        self._right_screen(view)
        if isinstance(self._screen, SkipScreen) and view.phase is not Phase.PAUSED:
            # A spoken word carried on: the question is no longer asked.
            self._leave()
        moment = self._moment(view)
        passing = self._refusal or self._steps.told
        shown_s = BEAT_S if passing else next_second_s(view, self._opening.speed)
        self._shown_until_ns = self._mono_ns() + round(shown_s * NS_PER_S)
        for screen in self._app.screen_stack:
            if isinstance(screen, CoachScreen):
                screen.show(moment)
        moved = before is not None and held(before) != held(view)
        if moved and isinstance(self._base, SessionScreen):
            self._base.flash()
        if before is None or before.phase is not view.phase:
            self._say_keys(view)

    def _say_keys(self, view: View) -> None:
        """What is to be pressed in the phase that has just begun."""
        if isinstance(self._base, EndScreen):
            self._coached.tell(self._base.aloud())
        elif self._screen is self._base and view.phase is not Phase.MOVING:
            self._coached.tell(*spoken_help.now_aloud(view))

    def _moment(self, view: View) -> Moment:
        to_come = datetime.timedelta(seconds=view.to_come_ns / NS_PER_S / self._opening.speed)
        told = (*self._steps.told, *view.notices)
        if self._refusal and self._mono_ns() - self._refused_ns >= TOLD_NS:
            self._refusal = ""
        if self._refusal:
            told = (self._refusal, *told)
        now = self._wall()
        # Only asked before the start: a session is not drawn anew for it.
        minute = now.replace(second=0, microsecond=0) if view.phase is Phase.READY else None
        return coarse(
            Moment(view=view, opening=self._opening, ends=now + to_come, told=told, now=minute)
        )

    def _right_screen(self, view: View) -> None:
        """Go on to the screen of the phase; what lies on top of it goes away."""
        if self._base is not None and stage(view) == self._stage:
            return
        self._stage = stage(view)
        self._steps.close()
        fresh = self._fresh_screen()
        fresh.driver = self
        if self._base is None:
            self._app.push_screen(fresh)
        else:
            self._leave()
            self._app.switch_screen(fresh)
        self._base = fresh

    def _fresh_screen(self) -> CoachScreen:
        if self._stage == "over":
            return EndScreen(self._coached.ending(), self._afterwards)
        if self._stage == "round":
            return RoundScreen()
        return ReadyScreen() if self._stage == "ready" else SessionScreen()

    # What the owner asks

    def pressed(self, id: str) -> None:  # noqa: A002  (the registry calls it id)
        """A key or a tap: done once, but for what must never wait."""
        action = BY_ID.get(id)
        if action is not None and action.repeats:
            self._act(action, self._mono_ns(), again=not self._hand.urgent(id))
        else:
            self._hand.press(id, pairs=self._steps.pairs)

    def _do(self, id: str, at_ns: int) -> None:  # noqa: A002
        """What was asked at ``at_ns``, a moment ago at most."""
        kind, _between, which = id.partition("_")
        if id in BY_ID:
            self._act(BY_ID[id], at_ns)
        elif id == "leave":
            self._leave_choices()
            self.beat()
        elif kind == "skip":
            self._skip(which)
        elif kind == "sign":
            self._sign(which)
        elif kind == "wrong":
            self._wrong(which)
        elif kind == "line":
            key, _between, line = which.partition("_")
            self._answer(key, at_ns, line=line)
        else:
            self._answer(which, at_ns)

    def _act(self, action: Action, at_ns: int, *, again: bool = False) -> None:
        """Do ``action``, or say why not."""
        step = self._steps.step() if action.id == "one_key" else ""
        if action.id != "one_key":
            self._steps.close()
        if step:
            if self._say is not None:
                self._say(step)
            self.beat()
            return
        view = self._coached.view()
        if view.phase is Phase.PAUSED and not again:
            self._hush()
        refusal: str | None = None
        if action.command is not None:
            refusal = self._coached.do(action.command())
            # A key held down has been heard once, and a stop more than once is a stop.
            if again or (action.id == "stop" and view.phase in OVER):
                refusal = None
            elif action.id == "say" and refusal is None:
                self._coached.tell(*spoken_help.more_aloud(view))
            self._leave()
        elif action.id == "one_key":
            refusal = self._one_key(view, at_ns)
        elif action.id == "skip":
            refusal = self._ask_why(view)
        elif action.id == "unhappy":
            refusal = self._ask_signs(view)
        elif action.id == "quit":
            refusal = self._quit()
        else:
            {
                "look": self._look,
                "picture": self._picture,
                "help": self._help,
                "emergency": self._emergency,
                "close": self._close,
            }[action.id]()
        self._refuse(refusal)
        self.beat()

    def _emergency(self) -> None:
        """Stopped and silent before anything is shown; then what happened, and what to do."""
        over = self._coached.view().phase in OVER
        self._coached.went_wrong()
        if isinstance(self._screen, EmergencyScreen):
            return
        self._show()
        self._leave()
        self._push(EmergencyScreen())
        self._hush()
        self._coached.tell(*(() if over else (_(STOPPED),)), *went_wrong.question())

    def _wrong(self, what: str) -> None:
        """What it was: written down, and what to do is shown and said."""
        if not isinstance(self._screen, EmergencyScreen):
            return
        if not self._coached.went_wrong(what) and self._afterwards is not None:
            # The log had been closed: it goes into the dog's diary.
            self._refuse(self._afterwards.keep(went_wrong.KIND, what) or None)
        self._screen.choose(what)
        self._hush()
        name, phone = self._opening.prescriber, self._opening.phone
        self._coached.tell(*went_wrong.what_to_do(what, name=name, phone=phone))
        self.beat()

    def _emergency_left(self, screen: EmergencyScreen) -> None:
        """Back at the end: it has more to tell, and the log waits for nothing any more."""
        if not screen.what:
            self._coached.went_wrong(went_wrong.NOT_SAID)
        if isinstance(self._base, EndScreen):
            self._base.renew(self._coached.ending())
            self._hush()
            self._coached.tell(self._base.aloud())

    def _one_key(self, view: View, at_ns: int) -> str | None:
        if isinstance(self._screen, EmergencyScreen):
            return self._one_key_wrong(self._screen, view)
        late = self._steps.too_late()
        if self._steps.twice(at_ns):
            if late and view.allows(cmd.Pause):
                refusal = self._coached.do(cmd.Pause())
                view = self._coached.view()
                if refusal:
                    return refusal
            if self._opens_choices(view, at_ns):
                return None
        if self._leave_choices():
            # The next press carries on; it is not the second of two.
            self._steps.close()
            return None
        if view.asks:
            return self._one_key_answers(view, at_ns)
        if view.phase in OVER:
            if isinstance(self._screen, EndScreen) and self._screen.asks:
                self._ask_afterwards(self._screen)
            elif isinstance(self._screen, PageScreen):
                self._screen.page_on()
            return None
        if view.phase is Phase.PAUSED:
            self._steps.first(at_ns)
            return None
        return self._coached.press()

    def _one_key_wrong(self, screen: EmergencyScreen, view: View) -> str | None:
        """The one key where something went wrong: step by step, and then on."""
        if screen.what:
            self._leave()
            self._steps.close()
        else:
            self._step_from(self._offered(view))
        return None

    def _step_from(self, taps: Sequence[Tap]) -> None:
        """Offer ``taps``; the first of them, too, is only taken by waiting."""
        self._steps.open(taps, as_it_is=False)
        self._hush()
        self._coached.tell(f"{taps[0].label}.", _(spoken_help.CHOOSE_ANSWER))

    def _one_key_answers(self, view: View, at_ns: int) -> str | None:
        """The one key at a question: done, or, where nothing is preset, step by step."""
        prompt = None if view.readiness is None else view.readiness.prompt
        if view.away or prompt is None:
            return self._coached.press()
        if not self._read(prompt, at_ns):
            return None
        if prompt.preset:
            return self._coached.press()
        self._step_from([tap for tap in self._offered(view) if tap.id != "one_key"])
        return None

    def _carry_on_alone(self) -> None:
        """Carry on, once the press that asked for it has stayed alone for long enough."""
        if self._hand.waits or not self._steps.alone():
            return
        if self._coached.view().phase is Phase.PAUSED:
            self._refuse(self._coached.press())

    def _opens_choices(self, view: View, at_ns: int) -> bool:
        """Two presses in a row, where the second would do nothing or undo the first."""
        ended = isinstance(self._screen, EndScreen) and not self._screen.asks
        paused = view.phase is Phase.PAUSED and self._screen is self._base
        if not (
            ended or (paused and not view.asks) or (view.asks and not self._has_read(view, at_ns))
        ):
            return False
        self._steps.open(self._offered(view))
        if isinstance(self._screen, PageScreen):
            self._screen.page_home()
        if paused:
            # After what has just been said: that the laser is to be lifted off comes first.
            self._coached.tell(_(spoken_help.CHOOSE))
        elif self._say is not None:
            self._say(_(spoken_help.CHOOSE))
        return True

    def _offered(self, view: View) -> tuple[Tap, ...]:
        screen = self._screen
        return screen.taps(self._moment(view)) if isinstance(screen, PageScreen) else taps_of(view)

    def _take(self, id: str) -> None:  # noqa: A002
        """What was chosen by one key alone; a list that it opens is stepped through as well."""
        self._do(id, self._mono_ns())
        if isinstance(self._screen, SkipScreen | UnhappyScreen):
            self._steps.open(self._offered(self._coached.view()))

    def _has_read(self, view: View, at_ns: int) -> bool:
        """Whether the question had been there long enough: no key answers unread."""
        prompt = None if view.readiness is None else view.readiness.prompt
        return prompt is not None and at_ns - self._prompted_ns >= read_ns(prompt)

    def _read(self, prompt: Prompt, at_ns: int) -> bool:
        """The same; a press that comes too soon starts the wait anew, so that a row of them
        answers nothing."""
        if at_ns - self._prompted_ns >= read_ns(prompt):
            return True
        self._prompted_ns = at_ns
        self._refusal = _("Read it first, then press.")
        self._refused_ns = self._mono_ns()
        return False

    def _answer(self, key: str, at_ns: int, *, line: str = "") -> None:
        """An answer by its own key or a tap; the buttons of a page are far from each other."""
        asked = self._coached.view().readiness
        prompt = None if asked is None else asked.prompt
        if prompt is None:
            return
        seen = at_ns - self._prompted_ns >= READ_NS if line else self._read(prompt, at_ns)
        for option in prompt.options if seen else ():
            if option.key == key:
                self._refuse(self._coached.answer(option.answer, line))
        self.beat()

    def _refuse(self, refusal: str | None) -> None:
        self._refusal = session_text.refusal_text(refusal) if refusal else ""
        self._refused_ns = self._mono_ns()
        if self._refusal:
            # As one text: words that nobody foresaw come later than those that were.
            now = spoken_help.now_aloud(self._coached.view())
            self._coached.tell(" ".join((self._refusal, *now)))

    def _ask_afterwards(self, end: EndScreen) -> None:
        """The questions for which both hands are free now."""
        assert self._afterwards is not None
        screen = AskScreen(
            self._afterwards.asking(),
            keep=self._afterwards.keep,
            title=self._coached.view().dog,
            mono_ns=self._mono_ns,
            say=self._say,
        )

        def done(asking: Asking | None) -> None:
            end.asked(over=asking is not None and asking.over)
            self._coached.tell(end.aloud())
            self._hand.anew()

        self._app.push_screen(screen, done)

    def _ask_why(self, view: View) -> str | None:
        """Pause first: nothing is counted while the owner chooses a reason."""
        if not view.allows(cmd.Skip):
            return self._coached.do(cmd.Skip())
        return self._paused_for(view, SkipScreen, "asked", said=spoken_help.skip_aloud())

    def _ask_signs(self, view: View) -> str | None:
        if not view.allows(cmd.Skip):
            return self._coached.do(cmd.Skip())
        make = partial(UnhappyScreen, self._coached.signs)
        return self._paused_for(view, make, "dog_unhappy", said=spoken_help.signs_aloud())

    def _paused_for(
        self,
        view: View,
        make: Callable[[], PageScreen],
        reason: cmd.PauseReason,
        *,
        said: tuple[str, ...],
    ) -> str | None:
        if view.phase is not Phase.PAUSED:
            refusal = self._coached.do(cmd.Pause(reason))
            if refusal:
                return refusal
        if not isinstance(self._screen, SkipScreen | UnhappyScreen):
            self._leave()
            self._push(make())
            self._read_out = said
        self._coached.tell(*self._read_out)
        return None

    def _skip(self, reason: str) -> None:
        if not isinstance(self._screen, SkipScreen):
            # A second tap on a choice that is made already: it would skip the spot after it.
            return
        (chosen,) = (known for known in REASONS if known.reason == reason)
        refusal = self._coached.do(cmd.Skip(chosen.reason))
        self._refuse(refusal)
        self._leave()
        self.beat()

    def _sign(self, sign: str) -> None:
        if isinstance(self._screen, UnhappyScreen):
            self._screen.mark(sign)
            self._coached.tell(*spoken_help.signs_done())
            self.beat()

    def _leave_choices(self) -> bool:
        """Back from a list, which is read no further; whether there was one."""
        chooses = isinstance(self._screen, SkipScreen | UnhappyScreen)
        self._leave()
        if chooses:
            self._hush()
            self._coached.tell(*spoken_help.now_aloud(self._coached.view()))
        return chooses

    def _hush(self) -> None:
        """Read out no further what the owner has heard enough of."""
        if self._say is not None:
            self._say("")

    def _leave(self) -> None:
        """Back to the screen of the phase."""
        left = self._screen
        if left is self._base:
            return
        self._app.pop_screen()
        if isinstance(left, EmergencyScreen):
            self._emergency_left(left)

    def _push(self, screen: CoachScreen) -> None:
        screen.driver = self
        self._app.push_screen(screen)

    def _look(self) -> None:
        self._next_look()

    def _picture(self) -> None:
        self._leave()
        if isinstance(self._base, SessionScreen):
            self._base.toggle_picture()

    def _help(self) -> None:
        if isinstance(self._screen, HelpScreen):
            self._leave()
        else:
            self._leave()
            self._push(HelpScreen())

    def _quit(self) -> str | None:
        if self._coached.view().phase not in OVER:
            return _("the session is not over; X stops it")
        self._leave_it()
        return None

    def _close(self) -> None:
        """Never leave a session that the journal does not know to be over."""
        if self._coached.view().phase in OVER:
            self._leave_it()
        else:
            self._coached.do(cmd.Stop("closed"))

    def _leave_it(self) -> None:
        """Take the screens of the session away and give back how it ended."""
        if self._left:
            return
        self._left = True
        self._steps.close()
        if self._next_beat is not None:
            self._next_beat.stop()
        self._leave()
        if self._base is not None:
            self._app.pop_screen()
        self._done(self._coached.view().phase)

    def pause_from_outside(self) -> None:
        """A signal: nobody sees the screen; count nothing until somebody is back."""
        if self._coached.view().allows(cmd.Pause):
            self._coached.do(cmd.Pause())
        self.beat()

    def close_from_outside(self) -> Phase:
        """A signal: stop, and write it down; the phase in which it was left."""
        self._left = True
        if self._coached.view().phase not in OVER:
            self._coached.do(cmd.Stop("closed"))
        return self._coached.view().phase
