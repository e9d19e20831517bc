"""The dose calculator: from some quantities to all that follow, and to what does not close.

Where more is stated than is needed, time and mean power rule (joules alone never do: Jenkins &
Carroll 2011, doi 10.1089/pho.2011.9895), then areas, then doses. What is stated beyond them is
compared with what follows; a difference over 5 % is a finding that shows the arithmetic and
names the slip that would explain it.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType
from typing import get_args

# Comes with pydantic, which makes the schema; typing's own would do from Python 3.12 on.
from typing_extensions import TypedDict

from coach.dose.beam import round_area_um2
from coach.dose.quantity import BOUNDS, Quantity, bound_problem, label, plain
from coach.dose.relations import COHERENT, Closure, closure, shown
from coach.dose.slips import slips, slips_of
from coach.units import cm2_from_um2, fj_from_j, ns_from_s, rounded, um2_from_cm2, uw_from_mw

# Two statements of the same thing that differ by more do not close (house rule).
CLOSES_WITHIN = Fraction(5, 100)

FORMAT = 1

# Earlier ones rule where more is stated than is needed.
RULE: tuple[Quantity, ...] = (
    "duration_s",
    "mean_power_mw",
    "peak_power_mw",
    "pulse_width_us",
    "frequency_hz",
    "duty_cycle_percent",
    "pulse_energy_uj",
    "beam_area_cm2",
    "swept_area_cm2",
    "irradiance_mw_cm2",
    "energy_j",
    "fluence_j_cm2",
    "swept_fluence_j_cm2",
)

# Used here and nowhere in the relations: a diameter gives an area, an aperture explains a slip.
BESIDE: tuple[Quantity, ...] = ("diameter_mm", "aperture_area_cm2")

ENOUGH = (
    "any two of mean power, time and energy; any two of energy, fluence and beam area; any two of "
    "fluence, irradiance and time; peak power with a duty cycle, or with pulse width and "
    "frequency, in place of the mean power; a swept area with a power and a time, or a fluence"
)


class CannotSolve(ValueError):  # noqa: N818  (a question that has no answer)
    """Too little was given, or what was given cannot be true of any laser."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NotClosing:
    """A stated value that does not follow from the others.

    Attributes:
        quantity: which; ``stated`` and ``computed`` are in the unit that its name ends in.
        deviation: (computed - stated) / stated.
        arithmetic: the steps to the computed value.
        slips: what would explain it, as questions; empty when no usual slip does.
    """

    quantity: Quantity
    stated: Fraction
    computed: Fraction
    deviation: Fraction
    arithmetic: str
    slips: tuple[str, ...]

    @property
    def difference(self) -> str:
        """How far off, as people say it: ``+29.5 %``, or ``1000 times as much``."""
        ratio = self.computed / self.stated
        if ratio >= 10:
            return f"{plain(ratio, 3)} times as much"
        return f"{rounded(self.deviation * 100, 1):+} %"

    def __str__(self) -> str:
        text = (
            f"{label(self.quantity)}: stated {_in_unit(self.quantity, self.stated)}, but "
            f"{self.arithmetic}: {self.difference}"
        )
        return f"{text} ({'; or '.join(self.slips)})" if self.slips else text


@dataclass(frozen=True, slots=True, kw_only=True)
class Solution:
    """What was given, what follows from it, and what is odd about it.

    Attributes:
        given: as stated, in the units that the names end in.
        values: everything known, from what rules; same units.
        steps: the arithmetic, one line for each computed quantity.
        not_closing: stated values that do not follow, worst first.
        remarks: numbers outside the usual range, with what was probably meant.
        spots, sessions: how many equal spots a session and sessions a course.
    """

    given: Mapping[Quantity, Fraction]
    values: Mapping[Quantity, Fraction]
    steps: Mapping[Quantity, str]
    not_closing: tuple[NotClosing, ...]
    remarks: tuple[str, ...]
    spots: int
    sessions: int

    @property
    def duration_ns(self) -> int | None:
        """Time on one spot to the nearest nanosecond; None if it does not follow."""
        duration_s = self.values.get("duration_s")
        return None if duration_s is None else ns_from_s(duration_s)

    @property
    def energy_fj(self) -> int | None:
        """Energy of one spot to the nearest femtojoule; None if it does not follow."""
        energy_j = self.values.get("energy_j")
        return None if energy_j is None else fj_from_j(energy_j)

    @property
    def mean_power_uw(self) -> int | None:
        """Mean power to the nearest microwatt; None if it does not follow."""
        power_mw = self.values.get("mean_power_mw")
        return None if power_mw is None else uw_from_mw(power_mw)

    @property
    def beam_area_um2(self) -> int | None:
        """Beam area at the skin to the nearest square micrometre; None if it does not follow."""
        area_cm2 = self.values.get("beam_area_cm2")
        return None if area_cm2 is None else um2_from_cm2(area_cm2)

    @property
    def session_energy_j(self) -> Fraction | None:
        """Energy of all the spots of a session, joules."""
        energy_j = self.values.get("energy_j")
        return None if energy_j is None else energy_j * self.spots

    @property
    def course_energy_j(self) -> Fraction | None:
        """Energy of all sessions, joules."""
        session_j = self.session_energy_j
        return None if session_j is None else session_j * self.sessions


def solve(given: Mapping[Quantity, Fraction], *, spots: int = 1, sessions: int = 1) -> Solution:
    """Everything that follows from ``given`` (units as in the names, all above zero).

    Raises:
        CannotSolve: nothing follows, or a head would be on for over 100 % of the time.
        ValueError: a quantity that is no part of a dose, zero or less, spots or sessions below 1.
    """
    _check_given(given, spots, sessions)
    stated = dict(given)
    extra: list[NotClosing] = []
    first_steps: dict[Quantity, str] = {}
    diameter_mm = stated.get("diameter_mm")
    if diameter_mm is not None:
        area_cm2 = cm2_from_um2(round_area_um2(diameter_um=round(diameter_mm * 1000)))
        how = f"beam area = pi/4 × ({plain(diameter_mm)} mm)² = {plain(area_cm2)} cm2"
        if "beam_area_cm2" in stated:
            extra += _compare("beam_area_cm2", stated["beam_area_cm2"], area_cm2, how)
        else:
            first_steps["beam_area_cm2"] = how
        stated.setdefault("beam_area_cm2", area_cm2)
    ruling: dict[Quantity, Fraction] = {}
    known = closure(ruling)
    over: list[Quantity] = []
    for quantity in RULE:
        if quantity not in stated:
            continue
        if quantity in known.values:
            over.append(quantity)
        else:
            ruling[quantity] = stated[quantity]
            known = closure(ruling)
    if not known.steps and not extra:
        names = ", ".join(label(quantity) for quantity in given) or "nothing"
        raise CannotSolve(f"nothing follows from {names} alone; give {ENOUGH}")
    share = known.values.get("duty_cycle_percent")
    if share is not None and share > 100:
        raise CannotSolve(
            f"{known.arithmetic('duty_cycle_percent')}: a head cannot be on for over 100 % of the "
            "time; are peak and mean power swapped, or a unit wrong?"
        )
    for quantity in over:
        extra += _not_closing(quantity, stated, ruling, known, counts=(spots, sessions))
    return Solution(
        given=MappingProxyType(dict(given)),
        values=MappingProxyType(dict(known.values)),
        steps=MappingProxyType(
            {**first_steps, **{q: step.text for q, step in known.steps.items()}}
        ),
        not_closing=tuple(sorted(extra, key=lambda found: -abs(found.deviation))),
        remarks=_remarks(given, known),
        spots=spots,
        sessions=sessions,
    )


def _check_given(given: Mapping[Quantity, Fraction], spots: int, sessions: int) -> None:
    for quantity, value in given.items():
        if quantity not in RULE and quantity not in BESIDE:
            raise ValueError(f"{quantity} is no part of a dose")
        if value <= 0:
            raise ValueError(f"{quantity} {value}: it must be more than zero")
    for name, count in (("spots", spots), ("sessions", sessions)):
        if count < 1:
            raise ValueError(f"{name} {count}: at least 1 is allowed")


def _not_closing(
    quantity: Quantity,
    stated: Mapping[Quantity, Fraction],
    ruling: Mapping[Quantity, Fraction],
    known: Closure,
    *,
    counts: tuple[int, int],
) -> list[NotClosing]:
    value = stated[quantity]
    found = _compare(quantity, value, known.values[quantity], known.arithmetic(quantity))
    if not found:
        return []
    # Areas and shares that do not rule still help to recognise a slip.
    beside = {q: v for q, v in {**known.values, **stated}.items() if q not in ruling}
    names = []
    for words, meant in slips({**beside, **ruling}):
        changed = {q: v for q, v in meant.items() if q in ruling}
        then = closure(changed).values.get(quantity)
        if changed != ruling and then is not None and abs(then - value) <= CLOSES_WITHIN * value:
            names.append(words)
    # What does not rule can be mistyped as well.
    first = found[0]
    for words, own in slips_of(quantity, {**known.values, **stated}):
        if words not in names and abs(own - first.computed) <= CLOSES_WITHIN * own:
            names.append(words)
    names += _total(quantity, value / first.computed, value, counts)
    return [
        NotClosing(
            quantity=quantity,
            stated=first.stated,
            computed=first.computed,
            deviation=first.deviation,
            arithmetic=first.arithmetic,
            slips=tuple(names),
        )
    ]


def _total(
    quantity: Quantity, times: Fraction, value: Fraction, counts: tuple[int, int]
) -> list[str]:
    """Whether a value for one spot looks like that of all spots, or of all sessions."""
    spots, sessions = counts
    if quantity not in ("energy_j", "fluence_j_cm2", "swept_fluence_j_cm2"):
        return []
    of_session = f"the session of {spots} spots"
    of_course = f"the course of {sessions} sessions" + (f" of {spots} spots" if spots > 1 else "")
    for count, words in ((spots, of_session), (spots * sessions, of_course)):
        if count > 1 and abs(times - count) <= CLOSES_WITHIN * count:
            return [f"is {_in_unit(quantity, value)} {words}?"]
    return []


def _compare(
    quantity: Quantity, stated: Fraction, computed: Fraction, arithmetic: str
) -> list[NotClosing]:
    deviation = (computed - stated) / stated
    if abs(deviation) <= CLOSES_WITHIN:
        return []
    return [
        NotClosing(
            quantity=quantity,
            stated=stated,
            computed=computed,
            deviation=deviation,
            arithmetic=arithmetic,
            slips=(),
        )
    ]


def _remarks(given: Mapping[Quantity, Fraction], known: Closure) -> tuple[str, ...]:
    every = {**known.values, **given}
    problems = ((quantity, bound_problem(quantity, value)) for quantity, value in every.items())
    return tuple(f"{label(quantity)}: {problem}" for quantity, problem in problems if problem)


def _in_unit(quantity: Quantity, value: Fraction) -> str:
    if quantity in COHERENT:
        return shown(quantity, value)
    return f"{plain(value)} {BOUNDS[quantity].unit}"


class ValuesJson(TypedDict):
    """Numbers in the units that their names end in; null when a value does not follow."""

    mean_power_mw: float | None
    peak_power_mw: float | None
    duty_cycle_percent: float | None
    frequency_hz: float | None
    pulse_width_us: float | None
    pulse_energy_uj: float | None
    duration_s: float | None
    energy_j: float | None
    beam_area_cm2: float | None
    irradiance_mw_cm2: float | None
    fluence_j_cm2: float | None
    swept_area_cm2: float | None
    swept_fluence_j_cm2: float | None


class ExactJson(TypedDict):
    """The same as whole numbers of base units; null when a value does not follow."""

    mean_power_uw: int | None
    duration_ns: int | None
    energy_fj: int | None
    beam_area_um2: int | None


class NotClosingJson(TypedDict):
    """A stated value that does not follow from the others; numbers in the unit of the name."""

    quantity: str
    stated: float
    computed: float
    deviation_percent: float
    arithmetic: str
    slips: list[str]


class DoseJson(TypedDict):
    """What ``coach dose --json`` prints; ``dose.schema.json`` is its schema."""

    format: int
    given: dict[str, float]
    values: ValuesJson
    exact: ExactJson
    spots: int
    sessions: int
    session_energy_j: float | None
    course_energy_j: float | None
    closes: bool
    not_closing: list[NotClosingJson]
    remarks: list[str]
    steps: list[str]


def to_json(solution: Solution) -> DoseJson:
    """The solution as plain data; each number is the float nearest to the exact value."""
    values = {name: _float(solution.values.get(name)) for name in _VALUE_NAMES}
    return DoseJson(
        format=FORMAT,
        given={quantity: float(value) for quantity, value in solution.given.items()},
        values=ValuesJson(**values),  # type: ignore[typeddict-item]
        exact=ExactJson(
            mean_power_uw=solution.mean_power_uw,
            duration_ns=solution.duration_ns,
            energy_fj=solution.energy_fj,
            beam_area_um2=solution.beam_area_um2,
        ),
        spots=solution.spots,
        sessions=solution.sessions,
        session_energy_j=_float(solution.session_energy_j),
        course_energy_j=_float(solution.course_energy_j),
        closes=not solution.not_closing,
        not_closing=[
            NotClosingJson(
                quantity=found.quantity,
                stated=float(found.stated),
                computed=float(found.computed),
                deviation_percent=float(found.deviation * 100),
                arithmetic=found.arithmetic,
                slips=list(found.slips),
            )
            for found in solution.not_closing
        ],
        remarks=list(solution.remarks),
        steps=list(solution.steps.values()),
    )


_VALUE_NAMES: tuple[Quantity, ...] = tuple(
    quantity for quantity in get_args(Quantity) if quantity in COHERENT
)


def _float(value: Fraction | None) -> float | None:
    return None if value is None else float(value)
