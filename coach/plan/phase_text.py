"""The phases of a course side by side: what each orders, a session and a week. Pure."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from coach.body import region
from coach.dose import energy
from coach.plan.course import DAYS_A_WEEK, CoursePhase
from coach.plan.findings import total_ns
from coach.plan.formatting import number, plain
from coach.plan.model import Plan
from coach.plan.phases import has_phases, phase_plans, phases_by
from coach.plan.spots import Spot, spots_of
from coach.units import NS_PER_S, clock_text, cm2_from_um2, j_from_fj, rounded, s_from_ns

NAME = 28
COLUMN = 16
COLUMNS = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class SpotDose:
    """What each spot of a region gets.

    J/cm2 under the beam is None without a beam area, and where the head is moved; J/cm2 over the
    treated area is None where it rests.
    """

    spots: int
    hold_ns: int
    energy_j: Fraction
    fluence_j_cm2: Fraction | None
    over_area_j_cm2: Fraction | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseDose:
    """One phase: its session, and how often that is given in a week (None on dates).

    ``doses`` has the spots of a region in their doses: one, unless the plan orders it twice.
    """

    phase: CoursePhase
    spots: int
    hold_ns: int
    duration_ns: int
    energy_j: Fraction
    a_week: Fraction | None
    doses: Mapping[str, tuple[SpotDose, ...]]


def phase_doses(plan: Plan) -> list[PhaseDose]:
    """Every phase of the course, in its order."""
    return [
        _phase_dose(inner, plan.course[place], spots_of(inner))
        for place, inner in enumerate(phase_plans(plan))
        if plan.course
    ]


def course_energy_j(plan: Plan) -> Fraction:
    """Energy of every session of the course; 0 where the plan does not say how often."""
    doses = phase_doses(plan)
    return sum((dose.energy_j * dose.phase.sessions for dose in doses), Fraction())


def sessions_a_week(phase: CoursePhase) -> Fraction | None:
    """How often in a week, on the average; None for a phase on dates."""
    if phase.times_a_week is not None:
        return Fraction(phase.times_a_week)
    return None if phase.every_days is None else Fraction(DAYS_A_WEEK, phase.every_days)


def _phase_dose(plan: Plan, phase: CoursePhase, spots: Sequence[Spot]) -> PhaseDose:
    counts: dict[str, Counter[tuple[int, int | None]]] = {}
    for spot in spots:
        counts.setdefault(spot.region, Counter())[spot.hold_ns, spot.treated_area_um2] += 1
    held_ns = sum(spot.hold_ns for spot in spots)
    return PhaseDose(
        phase=phase,
        spots=len(spots),
        hold_ns=held_ns,
        duration_ns=total_ns(spots),
        energy_j=_joules(plan, held_ns),
        a_week=sessions_a_week(phase),
        doses={
            key: tuple(_spot_dose(plan, *dose, count) for dose, count in by_dose.items())
            for key, by_dose in counts.items()
        },
    )


def _spot_dose(plan: Plan, hold_ns: int, treated_um2: int | None, count: int) -> SpotDose:
    area_um2 = plan.laser.beam_area_um2 if treated_um2 is None else None
    energy_fj = energy.energy_fj(power_uw=plan.laser.power_uw, duration_ns=hold_ns)
    return SpotDose(
        spots=count,
        hold_ns=hold_ns,
        energy_j=j_from_fj(energy_fj),
        fluence_j_cm2=None
        if area_um2 is None
        else energy.fluence_j_cm2(energy_fj=energy_fj, beam_area_um2=area_um2),
        over_area_j_cm2=None
        if treated_um2 is None
        else j_from_fj(energy_fj) / cm2_from_um2(treated_um2),
    )


def _joules(plan: Plan, duration_ns: int) -> Fraction:
    return j_from_fj(energy.energy_fj(power_uw=plan.laser.power_uw, duration_ns=duration_ns))


def phase_lines(plan: Plan) -> Iterator[str]:
    """Lines of at most 60 columns, two phases side by side; none where all are alike."""
    if not has_phases(plan):
        return
    doses = phase_doses(plan)
    for begin in range(0, len(doses), COLUMNS):
        pair = doses[begin : begin + COLUMNS]
        yield _row("Phases side by side", [dose.phase.name for dose in pair])
        yield "-" * (NAME + COLUMN * COLUMNS)
        yield _row("sessions", [str(dose.phase.sessions) for dose in pair])
        yield _row("sessions a week", [_figure(dose.a_week) for dose in pair])
        yield _row("spots a session", [str(dose.spots) for dose in pair])
        yield _row("time a session", [clock_text(dose.duration_ns // NS_PER_S) for dose in pair])
        yield _row("J a session, all spots", [_figure(dose.energy_j) for dose in pair])
        for key in dict.fromkeys(key for dose in pair for key in dose.doses):
            yield region(key).owner_words[: NAME + COLUMN]
            cells = [_cells(dose, key) for dose in pair]
            for name in dict.fromkeys(name for column in cells for name in column):
                yield _row(f"  {name}", [column.get(name, "-") for column in cells])
        yield ""
    by = "its sessions are given" if phases_by(plan) == "sessions" else "its days are over"
    yield f"A phase ends when {by}."


def _cells(dose: PhaseDose, key: str) -> dict[str, str]:
    """What stands below a phase for a region, by the name of the row; "-" where it is left out."""
    spots = dose.doses.get(key, ())
    columns: dict[str, list[str]] = {
        "spots": [str(one.spots) for one in spots],
        "s a spot": [_figure(s_from_ns(one.hold_ns)) for one in spots],
        "J a spot": [_figure(one.energy_j) for one in spots],
        "J/cm2 a spot": [_figure(one.fluence_j_cm2) for one in spots],
        "J a spot a week": [_figure(_times(one.energy_j, dose.a_week)) for one in spots],
        "J/cm2 a spot a week": [_figure(_times(one.fluence_j_cm2, dose.a_week)) for one in spots],
    }
    if any(one.over_area_j_cm2 is not None for one in spots):
        columns["J/cm2 over the area"] = [_figure(one.over_area_j_cm2) for one in spots]
    return {name: " + ".join(cells) or "-" for name, cells in columns.items()}


def _times(value: Fraction | None, often: Fraction | None) -> Fraction | None:
    return None if value is None or often is None else value * often


def _figure(value: Fraction | None) -> str:
    return "-" if value is None else plain(rounded(value, 2))


def _row(name: str, cells: Sequence[str]) -> str:
    return f"{name:<{NAME}}{''.join(f'{cell[: COLUMN - 1]:>{COLUMN}}' for cell in cells)}"


def phases_json(plan: Plan) -> list[dict[str, Any]]:
    """For each phase what a session and a week of it give, for ``json.dumps``."""
    return [
        {
            "spots": dose.spots,
            "hold_s": number(s_from_ns(dose.hold_ns)),
            "duration_s": number(s_from_ns(dose.duration_ns)),
            "energy_j": number(dose.energy_j),
            "sessions_a_week": number(dose.a_week),
            "regions": [
                {
                    "region": key,
                    "spots": one.spots,
                    "hold_s": number(s_from_ns(one.hold_ns)),
                    "energy_j": number(one.energy_j),
                    "fluence_j_cm2": number(one.fluence_j_cm2),
                    "fluence_j_cm2_over_area": number(one.over_area_j_cm2),
                    "week_energy_j": number(_times(one.energy_j, dose.a_week)),
                    "week_fluence_j_cm2": number(_times(one.fluence_j_cm2, dose.a_week)),
                }
                for key, spots in dose.doses.items()
                for one in spots
            ],
        }
        for dose in phase_doses(plan)
    ]
