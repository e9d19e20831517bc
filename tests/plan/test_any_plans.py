"""Any valid plan reads, gives exact sums and comes back as it was; junk is refused in words."""

from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
import tomli_w
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from coach.plan.files import PlanFile, load_plan
from coach.plan.findings import findings
from coach.plan.formats import LISTS, TABLES
from coach.plan.laser import Pulsed
from coach.plan.problems import PlanProblems, Problem
from coach.plan.spots import spots_of
from coach.plan.summary_text import summary_lines
from coach.plan.write import write_plan
from tests.plan.any_plans import AnyPlan, any_plans
from tests.plan.worlds import PLAN, PLANS, TODAY, read


def usable(any_plan: AnyPlan) -> AnyPlan:
    """Rounding a target to hundredths may have left it with less than a second."""
    for target_j in any_plan.targets_j:
        if target_j is not None:
            assume(1 <= target_j * 1000 / any_plan.power_mw <= 1800)
    return any_plan


@settings(deadline=None)
@given(any_plans())
def test_a_valid_plan_gives_the_spots_and_seconds_that_it_says(any_plan: AnyPlan) -> None:
    plan = read(usable(any_plan).text)
    spots = spots_of(plan)
    assert len(spots) == any_plan.spots
    assert [spot.index for spot in spots] == list(range(any_plan.spots))
    if any_plan.hold_s is not None:
        assert Fraction(sum(spot.hold_ns for spot in spots), 10**9) == any_plan.hold_s


@settings(deadline=None)
@given(any_plans())
def test_a_target_is_met_to_half_a_tenth_of_a_second(any_plan: AnyPlan) -> None:
    plan = read(usable(any_plan).text)
    for order, target_j in zip(plan.regions, any_plan.targets_j, strict=True):
        if target_j is not None:
            given_j = Fraction(plan.laser.power_uw * plan.hold_ns(order), 10**15)
            power_w = any_plan.power_mw / 1000
            assert abs(given_j - target_j) <= power_w * Fraction(5, 100)
            assert plan.hold_ns(order) % 10**8 == 0


@settings(deadline=None)
@given(any_plans())
def test_a_plan_that_is_written_reads_as_the_same_plan(any_plan: AnyPlan) -> None:
    plan = read(usable(any_plan).text)
    text = write_plan(plan)
    assert read(text) == plan
    assert write_plan(read(text)) == text


@settings(deadline=None)
@given(any_plans())
def test_a_summary_fits_into_sixty_columns(any_plan: AnyPlan) -> None:
    plan = read(usable(any_plan).text)
    spots = spots_of(plan)
    plan_file = PlanFile(path=Path("plan.toml"), plan=plan, digest="")
    for line in summary_lines(plan_file, spots, findings(plan, spots, today=TODAY)):
        assert len(line) <= 60
        assert line.isprintable()


def refused_in_words(text: str) -> None:
    """Reads, or is refused with problems that can be printed; nothing else ever happens."""
    for problem in problems_if_any(text):
        assert problem.found
        assert problem.allowed
        assert str(problem).isprintable()
        assert problem.line is None or 1 <= problem.line <= text.count("\n") + 1


def problems_if_any(text: str) -> tuple[Problem, ...]:
    try:
        read(text)
    except PlanProblems as problems:
        return problems.problems or (Problem(file="", field="", found="", allowed=""),)
    return ()


@settings(deadline=None)
@given(st.binary(max_size=2000))
@example(b"")
@example(b"\x00" * 100)
def test_random_bytes(tmp_path_factory: pytest.TempPathFactory, content: bytes) -> None:
    path = tmp_path_factory.mktemp("junk") / "plan.toml"
    path.write_bytes(content)
    with pytest.raises(PlanProblems):
        load_plan(path, today=TODAY)


TOML_PIECES = st.sampled_from(
    [
        *"[]{}\"=.,#\n\t \\-_'",
        *('"""', "'''", "[[regions]]", "[plan]", "laser.", "coach_plan = 1", "\r\n", "\ufeff"),
        *("1979-05-27T07:32:00Z", "1e400", "0x", "nan", "true", "0xffffffff", "a"),
    ]
)


@settings(deadline=None)
@given(st.lists(TOML_PIECES | st.text(max_size=3), max_size=60).map("".join))
@example("a." * 2_000 + "a = 1")
@example("[" + "a." * 2_000 + "a]")
@example('"' * 1000)
@example("x = 0x" + "f" * 10_000 + "\n")
@example("coach_plan = 0x" + "f" * 10_000 + "\n")
@example("plan = 1e9999999999999999999\n")
@example("a = {b = " * 200 + "1" + "}" * 200)
def test_random_toml(text: str) -> None:
    refused_in_words(text)


DEMOS = [path.read_text(encoding="utf-8") for path in sorted(PLANS.glob("*.toml"))]


@settings(deadline=None)
@given(
    text=st.sampled_from([PLAN, *DEMOS]),
    cuts=st.lists(st.tuples(st.integers(0, 1900), st.integers(0, 40), st.text(max_size=4))),
)
def test_a_plan_with_random_damage(text: str, cuts: list[tuple[int, int, str]]) -> None:
    for start, length, instead in cuts:
        text = text[:start] + instead + text[start + length :]
    refused_in_words(text)


NAMES = st.sampled_from(
    sorted(
        {key for table in TABLES.values() for key in table.model_fields}
        | {key for table in LISTS.values() for key in table.model_fields}
        | {"coach_plan", *TABLES, *LISTS, *Pulsed.model_fields}
    )
)
VALUES = st.recursive(
    st.booleans()
    | st.integers()
    | st.floats()
    | st.dates()
    | st.datetimes()
    | st.text(st.characters(codec="utf-8"), max_size=10)
    | st.sampled_from(["3B", "left", "lumbar", "hip", "lateral", "stays on", 1, 40, 100]),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(NAMES | st.text(), inner, max_size=6)
    ),
    max_leaves=20,
)


@settings(deadline=None)
@given(st.dictionaries(NAMES, VALUES, max_size=8))
def test_right_names_with_random_values(tables: dict[str, Any]) -> None:
    refused_in_words(tomli_w.dumps(tables))


@settings(deadline=None)
@given(data=st.data())
def test_one_random_value_in_a_right_plan(data: st.DataObject) -> None:
    text = data.draw(st.sampled_from([PLAN, *DEMOS]))
    lines = text.split("\n")
    places = [n for n, line in enumerate(lines) if " = " in line and not line.startswith("#")]
    number = data.draw(st.sampled_from(places))
    key = lines[number].split(" = ")[0]
    lines[number] = tomli_w.dumps({key: data.draw(VALUES)}).rstrip("\n")
    refused_in_words("\n".join(lines))
