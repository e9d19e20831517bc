"""Each press once: bouncing, held down, twice on purpose, mixed with other keys; on our own clock.

When keys that are held down arrive: ``HELD_S``, from memory. 0.3 s: common practice, no source.
"""

from collections.abc import Callable
from dataclasses import dataclass, field

from hypothesis import given
from hypothesis import strategies as st

from coach.screens.key_debounce import OnePress
from coach.units import NS_PER_S
from tests.screens.thin import HELD_S, FakeTime


@dataclass
class Hand:
    """Presses, and timers that go off while time passes."""

    time: FakeTime = field(default_factory=FakeTime)
    done: list[tuple[str, float]] = field(default_factory=list)
    timers: list[tuple[int, Callable[[], None]]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.began_ns = self.time()
        self.one = OnePress(self._do, mono_ns=self.time, later=self._later)

    def _do(self, key: str, at_ns: int) -> None:
        self.done.append((key, (at_ns - self.began_ns) / NS_PER_S))

    def _later(self, after_s: float, ring: Callable[[], None]) -> None:
        self.timers.append((self.time() + round(after_s * NS_PER_S), ring))

    def wait(self, seconds: float) -> None:
        ends_ns = self.time() + round(seconds * NS_PER_S)
        while due := [timer for timer in self.timers if timer[0] <= ends_ns]:
            self.timers.remove(first := min(due, key=lambda timer: timer[0]))
            self.time.now_ns = max(self.time(), first[0])
            first[1]()
        self.time.now_ns = ends_ns

    def hold(self, key: str) -> None:
        for gap_s in HELD_S:
            self.wait(gap_s)
            self.one.press(key)

    @property
    def keys(self) -> list[str]:
        return [key for key, _ in self.done]


def calm_hand() -> Hand:
    """One whose screen has been there for long enough."""
    hand = Hand()
    hand.wait(1)
    return hand


def test_a_key_held_down_is_done_once_and_the_next_press_again() -> None:
    hand = calm_hand()
    hand.hold("space")
    hand.wait(0.8)
    hand.one.press("space")
    hand.wait(1)
    assert hand.keys == ["space", "space"]


def test_a_second_press_after_half_a_second_is_done_a_tenth_later_as_of_its_own_time() -> None:
    hand = calm_hand()
    hand.one.press("space")
    hand.wait(0.5)
    hand.one.press("space")
    assert hand.done == [("space", 1.0)]
    hand.wait(0.1)
    assert hand.done == [("space", 1.0), ("space", 1.5)]
    assert hand.timers == []


def test_a_key_that_was_down_before_the_screen_came_means_nothing_to_it() -> None:
    for late_s in (0.0, 0.25, 0.65):
        hand = Hand()
        arrivals = [sum(HELD_S[: n + 1]) - late_s for n in range(len(HELD_S))]
        before_s = 0.0
        for at_s in arrivals:
            if at_s > 0:
                hand.wait(at_s - before_s)
                hand.one.press("space")
                before_s = at_s
        hand.wait(1)
        assert hand.done == []
        hand.one.press("space")
        assert hand.keys == ["space"]


def test_something_else_is_asked_while_a_key_is_down() -> None:
    hand = calm_hand()
    hand.one.press("yes")
    hand.one.anew()
    for gap_s in HELD_S[1:]:
        hand.wait(gap_s)
        hand.one.press("yes")
    hand.wait(1)
    assert hand.keys == ["yes"]


def test_another_key_comes_after_the_one_that_waits() -> None:
    hand = calm_hand()
    hand.one.press("space")
    hand.wait(0.5)
    hand.one.press("space")
    hand.wait(0.05)
    hand.one.press("skip")
    hand.wait(1)
    assert hand.keys == ["space", "space", "skip"]


def test_nothing_that_was_pressed_before_a_stop_comes_after_it() -> None:
    hand = calm_hand()
    hand.one.press("space")
    hand.wait(0.5)
    hand.one.press("space")
    assert hand.one.urgent("stop")
    hand.wait(1)
    assert hand.keys == ["space"]
    assert not any(_repeats(hand))
    hand.wait(1)
    # And what was forgotten is no reason to overlook the next press.
    hand.one.press("space")
    assert hand.keys == ["space", "space"]


def _repeats(hand: Hand) -> list[bool]:
    """Whether a stop that is held down counts as new, again and again."""
    new = []
    hand.one.urgent("dog_moved")
    for gap_s in HELD_S[1:]:
        hand.wait(gap_s)
        new.append(hand.one.urgent("dog_moved"))
    return new


@given(
    st.lists(
        st.tuples(st.sampled_from(["a", "b", "c"]), st.integers(0, 1500)), min_size=1, max_size=40
    )
)
def test_nothing_is_made_up_or_turned_round_and_every_calm_press_is_done(
    presses: list[tuple[str, int]],
) -> None:
    hand = calm_hand()
    pressed, calm = [], []
    last_ms: dict[str, int] = {}
    now_ms = 1000
    for key, gap_ms in presses:
        hand.wait(gap_ms / 1000)
        now_ms += gap_ms
        hand.one.press(key)
        pressed.append((key, now_ms / 1000))
        if now_ms - last_ms.get(key, 0) > 700:
            calm.append(pressed[-1])
        last_ms[key] = now_ms
    hand.wait(1)
    times = [at_s for _, at_s in hand.done]
    assert times == sorted(times)
    assert set(calm) <= set(hand.done) <= set(pressed)
    assert len(hand.done) == len(set(hand.done))
