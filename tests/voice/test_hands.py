"""One press is one press: bounces and held keys count once; and which key means what."""

from itertools import accumulate

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.plan.problems import Report
from coach.screens.actions import ACTIONS
from coach.voice.key_input import DOUBLE_NS, FIRST_REPEAT_NS, REPEAT_NS, KeyWishes, Presses

MS = 1_000_000

USUAL = {"one_key": ("space", "pagedown"), "say": ("pageup", "r"), "back": ("b",), "stop": ("x",)}
WISHES = KeyWishes(usual=USUAL, fixed={"space", "x"}, names={"pageup", "pagedown", "f9", "space"})


def counted(arrivals_ns: list[int]) -> int:
    """How often the action is done when keys arrive then, with a caller that keeps its times."""
    presses = Presses()
    times = 0
    for now_ns, following_ns in zip(arrivals_ns, [*arrivals_ns[1:], 10**18], strict=True):
        verdict = presses.press(now_ns)
        times += verdict == "press"
        if verdict == "wait" and now_ns + REPEAT_NS < following_ns:
            times += presses.due(now_ns + REPEAT_NS)
            assert not presses.due(now_ns + 2 * REPEAT_NS)
    return times


@given(st.integers(0, DOUBLE_NS))
def test_a_double_press_counts_once(gap_ns: int) -> None:
    assert counted([0, gap_ns]) == 1


@given(st.integers(DOUBLE_NS + 1, 10**11))
def test_two_presses_count_twice(gap_ns: int) -> None:
    assert counted([0, gap_ns]) == 2


@given(first_ms=st.integers(100, 700), every_ms=st.integers(10, 92), repeats=st.integers(2, 200))
def test_a_key_held_down_counts_once(first_ms: int, every_ms: int, repeats: int) -> None:
    # First repeat after 0.25 to 0.66 s, then 10.9 to 30 a second: usual, from memory; wider here.
    gaps = [first_ms * MS, *[every_ms * MS] * (repeats - 1)]
    assert counted([0, *accumulate(gaps)]) == 1


@given(first_ms=st.integers(100, 660), repeats=st.integers(2, 50), rest_ms=st.integers(701, 5000))
def test_after_a_held_key_the_next_press_counts(first_ms: int, repeats: int, rest_ms: int) -> None:
    held = [0, *accumulate([first_ms * MS, *[33 * MS] * (repeats - 1)])]
    assert counted([*held, held[-1] + rest_ms * MS]) == 2


@given(st.lists(st.integers(FIRST_REPEAT_NS + 1, 10**10), max_size=30))
def test_calm_presses_all_count(gaps: list[int]) -> None:
    assert counted([0, *accumulate(gaps, initial=10**6)][1:]) == len(gaps) + 1


@given(st.lists(st.integers(0, 10**9), min_size=1, max_size=50))
def test_no_press_is_made_up_and_the_first_always_counts(gaps: list[int]) -> None:
    arrivals = list(accumulate(gaps))
    assert 1 <= counted(arrivals) <= len(arrivals)


def report_of(table: object) -> tuple[dict[str, tuple[str, ...]], list[str]]:
    report = Report("settings.toml", "")
    bound = WISHES.of(table, report)
    return bound, [f"{found}; {allowed}; {hint}" for _, found, allowed, hint in report.found]


def test_a_pedal_key_is_bound_besides_the_usual_ones() -> None:
    bound, problems = report_of({"one_key": ["f9", "."]})
    assert problems == []
    assert WISHES.keymap(bound) == {**USUAL, "one_key": ("space", "pagedown", "f9", ".")}


def test_a_bound_key_leaves_the_action_that_usually_has_it() -> None:
    bound, problems = report_of({"one_key": "pageup"})
    assert problems == []
    assert WISHES.keymap(bound)["say"] == ("r",)
    assert WISHES.keymap(bound)["one_key"] == ("space", "pagedown", "pageup")


def test_an_action_that_loses_its_only_letter_moves_to_the_capital() -> None:
    bound, problems = report_of({"one_key": ["b"]})
    assert problems == []
    assert WISHES.keymap(bound)["back"] == ("B",)
    both, problems = report_of({"one_key": ["b"], "back": ["f9"]})
    assert problems == []
    assert WISHES.keymap(both)["back"] == ("f9",)


@pytest.mark.parametrize(
    ("table", "told"),
    [
        ({"one_key": ["f9"], "say": ["f9"]}, "this one means one_key already"),
        ({"sing": ["f9"]}, "an unknown action; one_key, say, back, stop"),
        ({"sai": ["f9"]}, 'did you mean "say"?'),
        ({"say": ["space"]}, "this one always keeps its meaning"),
        ({"say": ["x"]}, "this one always keeps its meaning"),
        ({"say": ["pagdown"]}, 'did you mean "pagedown"?'),
        ({"say": [""]}, "the name of a key"),
        ({"say": ["\x07"]}, "the name of a key"),
        ({"say": [","]}, "the name of a key"),
        ({"say": 7}, "keys in quotes"),
        ({"say": ["f9", 7]}, "keys in quotes"),
        ("f9", "a table [keys]"),
    ],
)
def test_a_bad_binding_is_told_and_left_out(table: object, told: str) -> None:
    bound, (problem,) = report_of(table)
    assert told in problem
    kept = {"one_key": ("f9",)} if isinstance(table, dict) and "one_key" in table else {}
    assert bound == kept


@given(
    st.dictionaries(
        st.sampled_from([action.id for action in ACTIONS]),
        st.lists(st.sampled_from([*"abcdefgx.B", "pageup", "pagedown", "f9", "space", "up"])),
    )
)
def test_whatever_is_bound_each_key_means_one_thing_and_stop_has_a_key(
    table: dict[str, list[str]],
) -> None:
    wishes = KeyWishes(
        usual={action.id: action.keys for action in ACTIONS},
        fixed={"space", "x"},
        names={"pageup", "pagedown", "f9", "space", "up"},
    )
    keymap = wishes.keymap(wishes.of(table, Report("settings.toml", "")))
    keys = [key for bound in keymap.values() for key in bound]
    assert len(keys) == len(set(keys))
    assert "x" in keymap["stop"]
    assert "space" in keymap["one_key"]
