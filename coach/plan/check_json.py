"""What ``coach check --json`` prints, as types; ``check.schema.json`` is made from them.

The data itself is made by :func:`coach.plan.summary_text.summary_json`. Later versions may add
keys; none is taken away or changes its meaning while ``summary`` stays 1.
"""

# Comes with pydantic, which makes the schema; typing's own would do from Python 3.12 on.
from typing_extensions import TypedDict


class PlanJson(TypedDict):
    """Who ordered what; dates as ISO 8601."""

    id: str
    revision: int
    prescriber: str
    clinic: str
    prescribed_on: str
    valid_until: str
    note: str
    cleared: list[str]


class DogJson(TypedDict):
    """The dog."""

    name: str
    weight_kg: float


class PulsedJson(TypedDict):
    """How a source pulses; ``duty_cycle`` from 0 to 1."""

    peak_power_mw: float
    duty_cycle: float
    pulse_width_us: float | None
    frequency_hz: float | None


class EmitterJson(TypedDict):
    """One source of the head, as stated; limits for ``limits_exposure_s`` of the laser.

    ``eye_limit_w_m2`` is the stricter of ICNIRP 2013 / IEC 60825-1:2014 and the EU directive.
    """

    wavelength_nm: float
    mean_power_mw: float
    pulsed: PulsedJson | None
    eye_limit_w_m2: float | None
    skin_limit_w_cm2: float | None


class OutputCheckJson(TypedDict):
    """The last output check; null where the plan does not say."""

    stated_mw: float
    measured_mw: float | None
    drift_percent: float | None
    on: str | None
    valid_days: int | None


class LaserJson(TypedDict):
    """The laser. ``mean_power_mw`` is what doses are computed from, ``power_by`` says whether it
    is the stated or the measured one, ``power_open`` whether the prescriber has yet to say.

    ``wavelength_nm`` is null when the plan has several ``[[laser.emitter]]``.
    """

    label: str
    laser_class: str
    wavelength_nm: float | None
    mean_power_mw: float
    power_by: str
    power_open: bool
    pulsed: PulsedJson | None
    emitters: list[EmitterJson]
    beam_area_cm2: float | None
    irradiance_mw_cm2: float | None
    limits_exposure_s: float | None
    skin_times: float | None
    aperture_area_cm2: float | None
    output_check: OutputCheckJson | None
    starts: str


class RegionJson(TypedDict):
    """Spots of a region that are given alike.

    ``spots`` counts all sides and aspects; ``hold_*``, ``energy_j`` and ``fluence_j_cm2`` are
    those of each spot, ``all_spots_energy_j`` is the sum. ``covered`` is the share of the length
    under the head, 0 to 1.
    """

    region: str
    term: str
    owner_words: str
    settle: bool
    sides: list[str]
    aspects: list[str]
    spots: int
    hold_ns: int
    hold_s: float
    energy_j: float
    all_spots_energy_j: float
    fluence_j_cm2: float | None
    irradiance_mw_cm2: float | None
    technique: str
    treated_area_cm2: float | None
    fluence_j_cm2_over_area: float | None
    note: str
    positions: list[str]
    length_cm: float | None
    covered: float | None


class SessionJson(TypedDict):
    """One whole session; ``duration_s`` with every move and turn."""

    spots: int
    hold_ns: int
    hold_s: float
    energy_j: float
    duration_s: float
    move_s: float
    turns: int
    turn_s: float
    positions: list[str]
    pinned: bool
    may_be_shortened: bool
    order: str
    advance: str
    patience_minutes: int
    repeats_allowed: int


class PhaseRegionJson(TypedDict):
    """The spots of a region that have one dose in a phase; ``week_*`` is null on dates."""

    region: str
    spots: int
    hold_s: float
    energy_j: float
    fluence_j_cm2: float | None
    fluence_j_cm2_over_area: float | None
    week_energy_j: float | None
    week_fluence_j_cm2: float | None


class PhaseSessionJson(TypedDict):
    """One session of a phase; ``sessions_a_week`` on the average, null on dates."""

    spots: int
    hold_s: float
    duration_s: float
    energy_j: float
    sessions_a_week: float | None
    regions: list[PhaseRegionJson]


class PhaseJson(TypedDict):
    """A phase of the course; zeros and no dates for the ways in which it does not say how often."""

    name: str
    times_a_week: int
    every_days: int
    weeks: int
    dates: list[str]
    sessions: int
    session: PhaseSessionJson


class CourseJson(TypedDict):
    """The course, phase by phase and in all; zeros where the plan does not say how often."""

    phases: list[PhaseJson]
    sessions: int
    weeks: int
    energy_j: float


class FindingJson(TypedDict):
    """A remark for the prescriber; ``field`` is the place in the plan (or several, by commas)."""

    field: str
    text: str


class CheckJson(TypedDict):
    """What ``coach check --json`` prints; ``check.schema.json`` is its schema.

    ``hold_ns`` is exact; other numbers are rounded to six places.
    """

    summary: int
    plan: PlanJson
    dog: DogJson
    laser: LaserJson
    regions: list[RegionJson]
    session: SessionJson
    course: CourseJson
    findings: list[FindingJson]
    cautions: list[str]
