"""The prescriber's desk without a screen: edits go in; plan, findings and totals come out. Pure.

A desk never refuses what is typed. A field that cannot be right is named with what is allowed,
and everything else goes on. It never proposes a dose: a new region starts empty, and what is
copied is marked until somebody has looked at it.
"""

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from fractions import Fraction
from typing import Any

from coach.body.regions import SIDES
from coach.dose import energy
from coach.plan.desk_edits import (
    AddTable,
    Data,
    Edit,
    FileText,
    MoveTable,
    NewText,
    PlanText,
    RemoveTable,
    SetField,
)
from coach.plan.desk_values import read_sides, read_typed, region_key
from coach.plan.draft import dose_text, read_dose
from coach.plan.draft_questions import Refused
from coach.plan.findings import Finding, total_ns
from coach.plan.model import FORMATS, Plan
from coach.plan.phase_findings import all_findings
from coach.plan.problems import Path, PlanProblems, Problem, dotted
from coach.plan.read import read_plan
from coach.plan.spots import Spot, spots_of, turns
from coach.plan.write import write_plan

FILE = "the plan"
REGIONS: Path = ("regions",)
# Not in a plan file: whichever of DOSES is stated.
DOSE = "dose"
DOSES = ("seconds_each_spot", "joules_each_spot", "joules_per_cm2_each_spot")
# A step of a dose by key: the smallest that an owner would notice. It changes what is there.
STEP = {"seconds_each_spot": 5, "joules_each_spot": 1, "joules_per_cm2_each_spot": 1, "spots": 1}


@dataclass(frozen=True, slots=True, kw_only=True)
class SpotFigures:
    """What one spot of a region gets.

    Attributes:
        hold_ns: time.
        energy_fj: energy.
        fluence_j_cm2: under the beam; None without a beam area.
        irradiance_mw_cm2: None without a beam area.
    """

    hold_ns: int
    energy_fj: int
    fluence_j_cm2: Fraction | None
    irradiance_mw_cm2: Fraction | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Totals:
    """What a plan comes to.

    Attributes:
        spots: of a session.
        hold_ns: on the spots of a session.
        session_ns: with moves and turns.
        turns: how often the dog is turned.
        energy_fj: of a session.
        week_fj: of the fullest week of the course; None where no phase says how often.
        course_fj: of the whole course.
        sessions: of the whole course.
        regions: one for each region, in the order of the plan.
    """

    spots: int
    hold_ns: int
    session_ns: int
    turns: int
    energy_fj: int
    week_fj: Fraction | None
    course_fj: int
    sessions: int
    regions: tuple[SpotFigures, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """What a plan means as it stands.

    Attributes:
        plan: None while something is wrong with it.
        spots: of a session, in order; empty without a plan.
        problems: what is wrong, in the order of the plan.
        findings: for the prescriber to weigh.
        totals: None without a plan.
    """

    plan: Plan | None
    spots: tuple[Spot, ...]
    problems: tuple[Problem, ...]
    findings: tuple[Finding, ...]
    totals: Totals | None

    def problem_at(self, path: Path) -> Problem | None:
        """What is wrong with the field at ``path``."""
        name = dotted(path)
        return next((problem for problem in self.problems if problem.field == name), None)


@dataclass(frozen=True, slots=True)
class Version:
    """One step of the history: the text, and what was copied and not yet looked at.

    ``copied`` has an entry for each region of the plan.
    """

    text: PlanText
    copied: tuple[bool, ...] = ()


@dataclass(slots=True)
class Desk:
    """A plan that is being written, with everything that was done to it.

    Attributes:
        today: for the checks of dates.
    """

    version: Version
    today: datetime.date
    _before: list[Version] = field(default_factory=list)
    _after: list[Version] = field(default_factory=list)

    @classmethod
    def empty(cls, *, today: datetime.date) -> "Desk":
        """A new plan, in which nothing has been answered."""
        data: Data = {"coach_plan": FORMATS[-1], "plan": {"revision": 1, "prescribed_on": today}}
        return cls(Version(NewText(data | {"dog": {}, "laser": {}, "regions": []})), today)

    @classmethod
    def open(cls, text: str, *, today: datetime.date) -> "Desk":
        """The plan of a file. Raises tomllib.TOMLDecodeError where it is no TOML."""
        desk = cls(Version(FileText(text)), today)
        return replace(desk, version=Version(FileText(text), (False,) * len(desk.regions)))

    @classmethod
    def revise(cls, text: str, *, today: datetime.date) -> "Desk":
        """The next revision of the plan of a file, prescribed today."""
        desk = cls.open(text, today=today)
        revision = desk.value(("plan", "revision"))
        source = desk.version.text.edited(SetField(("plan", "prescribed_on"), today))
        if isinstance(revision, int):
            source = source.edited(SetField(("plan", "revision"), revision + 1))
        return replace(desk, version=replace(desk.version, text=source))

    @classmethod
    def from_template(cls, text: str, *, today: datetime.date) -> "Desk":
        """A new plan from one of the practice's own: without the dog, every region "copied"."""
        data = FileText(text).data()
        for table in ("dog", "patient", "reason", "photos", "places"):
            data.pop(table, None)
        about = {name: data.get("plan", {}).get(name) for name in ("prescriber", "clinic", "phone")}
        data["plan"] = {name: value for name, value in about.items() if value}
        data["plan"] |= {"revision": 1, "prescribed_on": today}
        data["dog"] = {}
        return cls(Version(NewText(data), (True,) * len(data.get("regions", []))), today)

    # What is there

    @property
    def data(self) -> Data:
        """The plan as data."""
        return self.version.text.data()

    @property
    def text(self) -> str:
        """The plan as a file: a new one in the usual form as soon as it is whole."""
        if isinstance(self.version.text, NewText):
            plan = self.sheet().plan
            return self.version.text.text() if plan is None else write_plan(plan)
        return self.version.text.text()

    @property
    def regions(self) -> list[Mapping[str, Any]]:
        """The regions as far as they are filled in."""
        listed = self.data.get("regions", [])
        return [table for table in listed if isinstance(table, dict)]

    def value(self, path: Path) -> Any:
        """What stands at ``path``, or None."""
        found: Any = self.data
        for part in path:
            try:
                found = found[part]
            except (KeyError, IndexError, TypeError):
                return None
        return found

    def dose(self, index: int) -> str:
        """The dose of a region as somebody would type it."""
        order = self.regions[index]
        return dose_text({name: order[name] for name in DOSES if name in order})

    def sheet(self) -> Sheet:
        """What the plan means as it stands."""
        try:
            plan = read_plan(self.version.text.text(), file=FILE, today=self.today)
        except PlanProblems as problems:
            return Sheet(plan=None, spots=(), problems=problems.problems, findings=(), totals=None)
        spots = spots_of(plan)
        return Sheet(
            plan=plan,
            spots=spots,
            problems=(),
            findings=tuple(all_findings(plan, today=self.today)),
            totals=totals_of(plan, spots),
        )

    # What is done to it

    def type(self, path: Path, typed: str) -> None:
        """Somebody typed into the field at ``path``; "" empties it.

        ``dose`` of a region stands for the three ways to state one: the unit says which.
        """
        if path[-1] == DOSE:
            self._type_dose(path[:-1], typed)
        elif path[-1] == "sides":
            self._edit(SetField(path, read_sides(typed)))
        elif path[-1] == "region":
            self._edit(SetField(path, region_key(typed) or None))
        else:
            self._edit(SetField(path, read_typed(path, typed)))

    def _type_dose(self, table: Path, typed: str) -> None:
        stated: Mapping[str, Any] = {}
        if typed.strip():
            try:
                stated = read_dose(typed)
            except Refused:
                # It stays as it was typed; the reader says what is allowed.
                stated = {DOSES[0]: typed.strip()}
        self._edit(*(SetField((*table, name), stated.get(name)) for name in DOSES))

    def add_region(self, key: str) -> int:
        """A region at the end, empty but for its name; its number from 0."""
        index = len(self.regions)
        region = {"region": region_key(key)}
        self._edit(AddTable(REGIONS, index, region), copied=(*self.version.copied, False))
        return index

    def add_phase(self, name: str) -> int:
        """A phase of the course at the end, empty but for its name; its number from 0."""
        course = self.data.get("course", [])
        index = len(course) if isinstance(course, list) else 0
        self._edit(AddTable(("course",), index, {"name": name}))
        return index

    def remove_phase(self, index: int) -> None:
        """Take a phase out of the course."""
        self._edit(RemoveTable(("course",), index))

    def copy_region(self, index: int) -> int:
        """The same region once more after itself, marked as copied; the number of the copy."""
        copied = list(self.version.copied)
        copied.insert(index + 1, True)
        added = AddTable(REGIONS, index + 1, self.regions[index])
        self._edit(added, copied=tuple(copied))
        return index + 1

    def remove_region(self, index: int) -> None:
        """Take a region out."""
        copied = list(self.version.copied)
        del copied[index]
        self._edit(RemoveTable(REGIONS, index), copied=tuple(copied))

    def move_region(self, index: int, to: int) -> int:
        """Let a region be number ``to``, or as near as there is; its new number."""
        to = max(0, min(len(self.regions) - 1, to))
        if to != index:
            copied = list(self.version.copied)
            copied.insert(to, copied.pop(index))
            self._edit(MoveTable(REGIONS, index, to), copied=tuple(copied))
        return to

    def toggle_side(self, index: int, side: str) -> None:
        """Let a region be given on ``side``, or no longer."""
        sides = self.regions[index].get("sides")
        chosen = set(sides if isinstance(sides, list) else [])
        chosen ^= {side}
        ordered: list[str] = [name for name in SIDES if name in chosen]
        self._edit(SetField((*REGIONS, index, "sides"), ordered or None))

    def both_sides(self, index: int) -> None:
        """Copy what one side of a region gets to the other; marked as copied."""
        sides = self.regions[index].get("sides")
        chosen = set(sides if isinstance(sides, list) else []) | {"left", "right"}
        copied = list(self.version.copied)
        copied[index] = True
        ordered = [name for name in SIDES if name in chosen]
        self._edit(SetField((*REGIONS, index, "sides"), ordered), copied=tuple(copied))

    def step(self, path: Path, by: int) -> None:
        """More or less of a number that is there, by so many steps. Nothing comes of nothing."""
        value = self.value(path)
        if isinstance(value, bool) or not isinstance(value, int | Decimal):
            return
        changed = value + by * STEP.get(str(path[-1]), 1)
        if changed > 0:
            self._edit(SetField(path, changed))

    def looked_at(self, index: int) -> None:
        """Somebody has looked at a region: it is no longer marked as copied. No step of undo."""
        copied = list(self.version.copied)
        if index < len(copied) and copied[index]:
            copied[index] = False
            self.version = replace(self.version, copied=tuple(copied))

    def undo(self) -> bool:
        """Take the last edit back; False when there is none."""
        if not self._before:
            return False
        self._after.append(self.version)
        self.version = self._before.pop()
        return True

    def redo(self) -> bool:
        """Do again what was taken back; False when there is nothing."""
        if not self._after:
            return False
        self._before.append(self.version)
        self.version = self._after.pop()
        return True

    def _edit(self, *edits: Edit, copied: tuple[bool, ...] | None = None) -> None:
        """One step of the history, of one edit or several."""
        text = self.version.text
        for edit in edits:
            text = text.edited(edit)
        changed = Version(text, self.version.copied if copied is None else copied)
        if changed != self.version:
            self._before.append(self.version)
            self._after.clear()
            self.version = changed


def totals_of(plan: Plan, spots: tuple[Spot, ...]) -> Totals:
    """What ``plan`` comes to, if ``spots`` are those of one whole session."""
    power_uw = plan.laser.power_uw
    energy_fj = sum(energy.energy_fj(power_uw=power_uw, duration_ns=s.hold_ns) for s in spots)
    weekly = [
        Fraction(phase.times_a_week)
        if phase.times_a_week is not None
        else Fraction(7, phase.every_days)
        for phase in plan.course
        if phase.times_a_week is not None or phase.every_days is not None
    ]
    sessions = sum(phase.sessions for phase in plan.course)
    return Totals(
        spots=len(spots),
        hold_ns=sum(spot.hold_ns for spot in spots),
        session_ns=total_ns(spots),
        turns=turns(spots),
        energy_fj=energy_fj,
        week_fj=energy_fj * max(weekly) if weekly else None,
        course_fj=energy_fj * sessions,
        sessions=sessions,
        regions=tuple(_figures(plan, plan.hold_ns(order)) for order in plan.regions),
    )


def _figures(plan: Plan, hold_ns: int) -> SpotFigures:
    power_uw, area_um2 = plan.laser.power_uw, plan.laser.beam_area_um2
    energy_fj = energy.energy_fj(power_uw=power_uw, duration_ns=hold_ns)
    fluence = irradiance = None
    if area_um2 is not None:
        fluence = energy.fluence_j_cm2(energy_fj=energy_fj, beam_area_um2=area_um2)
        irradiance = Fraction(power_uw, 1000) / Fraction(area_um2, 10**8)
    return SpotFigures(
        hold_ns=hold_ns,
        energy_fj=energy_fj,
        fluence_j_cm2=fluence,
        irradiance_mw_cm2=irradiance,
    )
