"""What ``summary.json`` of a handover holds, as types; ``summary.schema.json`` is made from them.

Seconds, joules and J/cm2 are rounded to three places. ``given`` is as logged; ``counted`` and
``complete`` are after the corrections of the household; complete is a planned spot that had its
seconds. Null: not known. Keys may be added; none is taken away or changes its meaning. Format 2
(``handover``) added ``spots_complete``.
"""

# Comes with pydantic, which makes the schema; typing's own would do from Python 3.12 on.
from typing_extensions import TypedDict


class MadeJson(TypedDict):
    """When and by what; ``since`` is the first day asked for; ``names`` false: left out."""

    at: str
    program: str
    since: str | None
    names: bool
    paper: str
    fhir: bool


class DogJson(TypedDict):
    """The dog, as the last session that counts states it."""

    name: str
    weight_kg: str


class PlanJson(TypedDict):
    """A revision by which sessions were held."""

    id: str
    revision: int
    sha256: str
    prescriber: str
    sessions: int


class PlanNowJson(TypedDict):
    """The plan in the dog's folder at the moment."""

    id: str
    revision: int
    sha256: str
    prescriber: str
    clinic: str
    prescribed_on: str
    valid_until: str


class LaserJson(TypedDict):
    """A laser as stated; ``mean_power_mw`` is what joules are computed with.

    ``emitters``: how each one pulses, as stated, by the names of the log; nothing for one that
    does not. ``irradiance_mw_cm2``: mean power over the beam area.
    """

    label: str
    laser_class: str
    wavelength_nm: list[str]
    mean_power_mw: float
    beam_area_cm2: float | None
    irradiance_mw_cm2: float | None
    emitters: list[dict[str, str]]
    techniques: list[str]
    measured_on: str | None
    sessions: int


class DoseJson(TypedDict):
    """Sums over spots of the sessions that count."""

    spots: int
    spots_given: int
    spots_complete: int
    prescribed_s: float
    given_s: float
    counted_s: float
    prescribed_j: float
    given_j: float
    counted_j: float


class TotalsJson(DoseJson):
    """All of them; ``way_j``: up to so much more, with a laser that stayed on between spots."""

    way_j: float

    sessions_logged: int
    sessions_counted: int


class PlaceJson(DoseJson):
    """A region and side. ``j_cm2_a_spot`` is the mean over the spots, null when not known."""

    region: str
    term: str
    side: str
    prescribed_j_cm2_a_spot: float | None
    counted_j_cm2_a_spot: float | None


class SpotJson(TypedDict):
    """One spot over all sessions that count, for the picture of the dog."""

    region: str
    side: str
    aspect: str | None
    number: int
    of: int
    prescribed_s: float
    counted_s: float


class MissedJson(TypedDict):
    """A spot of a session that counts which had not all its time."""

    session: str
    day: str
    region: str
    side: str
    aspect: str | None
    number: int
    of: int
    outcome: str
    reason: str
    prescribed_s: float
    given_s: float


class RefusedJson(TypedDict):
    """What was asked before a session that was then not begun, and what was answered."""

    point: str
    answer: str
    outcome: str


class SessionJson(TypedDict):
    """One journal. ``state`` is empty when it cannot be read. ``refused``: it ended at these."""

    session: str
    opened: str
    clock: str
    who: str
    counts: bool
    why_not: str
    state: str
    reason: str
    spots: int
    spots_given: int
    spots_complete: int
    prescribed_s: float
    given_s: float
    counted_s: float
    way_j: float
    refused: list[RefusedJson]
    skin: str | None
    tolerance_0_10: int | None
    words: str
    overruled: list[str]
    journal: str
    signature: str
    sha256: str


class WentWrongJson(TypedDict):
    """An accident with the laser in use, on a spot (from 1; null: not said where).

    ``what``: eye, burn, bite, wrong_spot, stays_on, other, not_said, or what a newer program names.
    """

    session: str
    at: str
    spot: int | None
    what: str


class SignalJson(TypedDict):
    """Signals seen on a spot (from 1; null: not said where)."""

    session: str
    at: str
    spot: int | None
    signals: list[str]
    outcome: str


class AskedJson(TypedDict):
    """Something new that the owner told before a session, and what came of it."""

    session: str
    point: str
    answer: str
    outcome: str


class ScoreJson(TypedDict):
    """How the dog is doing, as the household says: 0 to 10, activities 0 to 4, 10 and 4 best."""

    at: str
    score_0_10: int | None
    activities: dict[str, int]
    instrument: str | None
    total: float | None
    by: str


class CorrectionJson(TypedDict):
    """A correction, and what it points at (``spot``, ``line`` from 1). ``here``: so is that."""

    session: str
    spot: int | None
    line: int | None
    what: str
    text: str
    by: str
    at: str
    here: bool


class DueJson(TypedDict):
    """A session of the course: the day that the plan gives, and the day on which it is due.

    ``state``: given, due, late, to_come, missed or ask (missed, the prescriber is to be asked).
    """

    number: int
    planned_on: str
    day: str
    state: str


class CourseJson(TypedDict):
    """The course as of ``made.at``; null without a course, or with ``made.since``.

    ``due`` are the sessions whose planned day is over (``planned`` is its older name); ``begun``,
    those in which light was given: ``complete`` ones, and others with the shares ``in_part``, of
    which ``too_little`` had too small a part to count; ``extra``, those that count beyond what was
    due, ``beyond``, beyond the whole course; ``given``, those that count for a day of the course;
    ``on_the_day`` and ``in_window`` (of the plan; null without one) are among these.
    """

    start: str
    whole_course: int
    planned: int
    due: int
    begun: int
    complete: int
    in_part: list[float]
    too_little: int
    extra: int
    behind: int
    beyond: int
    given: int
    on_the_day: int
    in_window: int | None
    day_unknown: int
    missed: int
    longest_gap_days: int | None
    next_day: str | None
    dues: list[DueJson]


class DayJson(TypedDict):
    """A day on which there was a session: ``full``, ``part`` (not every spot) or ``none``."""

    day: str
    sessions: int
    state: str


class RecordJson(TypedDict):
    """The digest over journals, diary and plan, and the signature of the device over it.

    SHA-256 over lines ``sha256 name`` sorted by name; both null when there was no key.
    """

    sha256: str
    public_key: str | None
    signature: str | None


class HeadJson(TypedDict):
    """What the summary of every format has: all that is needed to compute the rest anew."""

    handover: int
    made: MadeJson
    totals: dict[str, float]
    record: RecordJson


class SummaryJson(TypedDict):
    """``summary.json``; ``summary.schema.json`` is its schema."""

    handover: int
    how_counted: str
    made: MadeJson
    dog: DogJson
    first_day: str | None
    last_day: str | None
    plans: list[PlanJson]
    plan_now: PlanNowJson | None
    lasers: list[LaserJson]
    totals: TotalsJson
    places: list[PlaceJson]
    spots: list[SpotJson]
    missed: list[MissedJson]
    sessions: list[SessionJson]
    went_wrong: list[WentWrongJson]
    signals: list[SignalJson]
    asked: list[AskedJson]
    scores: list[ScoreJson]
    corrections: list[CorrectionJson]
    course: CourseJson | None
    days: list[DayJson]
    remarks: list[str]
    units: dict[str, str]
    record: RecordJson
