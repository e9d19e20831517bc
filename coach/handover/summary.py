"""All figures of a handover as data; the report is drawn from nothing else. Pure."""

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

from coach.body import region
from coach.body.regions import SIDES
from coach.body.site import Flank
from coach.handover import summary_json as sj
from coach.handover.anonymise import Names
from coach.handover.build_info import Made, Record
from coach.handover.dog_case import Case, Session
from coach.handover.handover_calendar import calendar_of, figures_of
from coach.handover.tables import SESSION_COLUMNS, SPOT_COLUMNS, technique_of
from coach.journal.diary_entries import Correction, FunctionScore
from coach.record.course_tally import SideSum, Sums, course_of
from coach.record.part import Part, added
from coach.record.tally import SessionTally, SpotTally
from coach.units import cm2_from_um2, j_from_fj, mw_from_uw, rounded, s_from_ns

FORMAT = 2
# How an emitter pulses, by the names of the log.
PULSES = ("peak_power_mw", "duty_cycle", "pulse_width_us", "frequency_hz")
HOW_COUNTED = (
    "Seconds are what the timer ran with the head said to be on the spot: coached, not measured. "
    "Joules are mean power as stated x seconds; J/cm2 over the beam area as stated."
)


def summary_of(case: Case, made: Made, names: Names, record: Record) -> sj.SummaryJson:
    """Every figure that is handed over."""
    counted = [
        (session, session.tally, session.corrected)
        for session in case.counted
        if session.tally is not None and session.corrected is not None
    ]
    logged = [tally for _, tally, _ in counted]
    last = logged[-1] if logged else None
    days = sorted(session.day for session, _, _ in counted)
    now = [then for _, _, then in counted]
    was_sums, now_sums = Sums.of(logged), Sums.of(now)
    was, is_now = course_of(was_sums), course_of(now_sums)
    of = {spot.site: spot.of for tally in now for spot in tally.spots}
    sites = {spot.site: spot.part for side in is_now.sides for spot in side.spots}
    return {
        "handover": FORMAT,
        "how_counted": HOW_COUNTED,
        "made": {
            "at": made.at,
            "program": made.program,
            "since": made.since,
            "names": names.shown,
            "paper": made.paper,
            "fhir": made.fhir,
        },
        "dog": {"name": names.dog(case.dog), "weight_kg": "" if last is None else last.weight_kg},
        "first_day": days[0] if days else None,
        "last_day": days[-1] if days else None,
        "plans": _plans(logged, names),
        "plan_now": _plan_now(case, names),
        "lasers": _lasers(logged),
        "totals": {
            "sessions_logged": len(case.sessions),
            "sessions_counted": len(counted),
            **_dose(was.total, is_now.total),
            "way_j": rounded_number(j_from_fj(is_now.way_fj)),
        },
        "places": [_place(*pair) for pair in _by_region(was.sides, is_now.sides)],
        "spots": [
            {
                "region": site.region,
                "side": site.side,
                "aspect": site.aspect,
                "number": site.number,
                "of": of[site],
                "prescribed_s": round_s(sites[site].planned_ns),
                "counted_s": round_s(sites[site].given_ns),
            }
            for site in dict.fromkeys(key.site for key in now_sums.places)
        ],
        "missed": [
            _missed(session, spot, names)
            for session, tally, _ in counted
            for spot in tally.spots
            if spot.outcome != "given"
        ],
        "sessions": [_session(session, names) for session in case.sessions],
        "went_wrong": [
            {
                "session": names.session(session.stem),
                "at": accident.wall,
                "spot": None if accident.spot is None else accident.spot + 1,
                "what": accident.what,
            }
            for session in case.sessions
            for accident in session.went_wrong
        ],
        "signals": [
            {
                "session": names.session(session.stem),
                "at": seen.wall,
                "spot": None if seen.spot is None else seen.spot + 1,
                "signals": list(seen.signals),
                "outcome": seen.outcome,
            }
            for session in case.sessions
            for seen in session.signals
        ],
        "asked": [
            {
                "session": names.session(session.stem),
                "point": point,
                "answer": answer,
                "outcome": outcome,
            }
            for session in case.sessions
            for point, answer, outcome in session.asked
        ],
        "scores": [
            {
                "at": told.wall,
                "score_0_10": told.entry.score_0_10,
                "activities": dict(told.entry.activities) if names.shown else {},
                "instrument": told.entry.total.instrument if told.entry.total else None,
                "total": float(told.entry.total.value) if told.entry.total else None,
                "by": names.person(told.entry.by),
            }
            for told in case.diary.told
            if isinstance(told.entry, FunctionScore)
        ],
        "corrections": _corrections(case, names),
        "course": _course(case, made),
        "days": _days([session for session, _, _ in counted]),
        "remarks": _remarks(case, names),
        "units": {
            column.name: column.unit for column in (*SPOT_COLUMNS, *SESSION_COLUMNS) if column.unit
        },
        "record": {
            "sha256": record.sha256,
            "public_key": record.public_key,
            "signature": record.signature,
        },
    }


_Pair = tuple[Flank, SideSum | None, SideSum | None]


def _by_region(was: Sequence[SideSum], now: Sequence[SideSum]) -> list[_Pair]:
    """Regions in the order of the sessions, the sides of each together: as logged, as corrected."""
    logged, counted = ({side.flank: side for side in sides} for sides in (was, now))
    flanks = list(dict.fromkeys([*logged, *counted]))
    regions = list(dict.fromkeys(flank.region for flank in flanks))
    flanks.sort(key=lambda flank: (regions.index(flank.region), SIDES.index(flank.side)))
    return [(flank, logged.get(flank), counted.get(flank)) for flank in flanks]


def _place(flank: Flank, was: SideSum | None, now: SideSum | None) -> sj.PlaceJson:
    return {
        "region": flank.region,
        "term": _term(flank.region),
        "side": flank.side,
        **_dose(_part(was), _part(now)),
        "prescribed_j_cm2_a_spot": None if was is None else _maybe(was.planned_j_cm2_a_spot),
        "counted_j_cm2_a_spot": None if now is None else _maybe(now.given_j_cm2_a_spot),
    }


def _part(side: SideSum | None) -> Part:
    return added(()) if side is None else side.part


def _dose(was: Part, now: Part) -> sj.DoseJson:
    """A sum as logged and as it counts after the corrections."""
    return {
        "spots": was.planned,
        "spots_given": was.whole,
        "spots_complete": now.whole,
        "prescribed_s": round_s(was.planned_ns),
        "given_s": round_s(was.given_ns),
        "counted_s": round_s(now.given_ns),
        "prescribed_j": rounded_number(j_from_fj(was.planned_fj)),
        "given_j": rounded_number(j_from_fj(was.given_fj)),
        "counted_j": rounded_number(j_from_fj(now.given_fj)),
    }


def _plans(logged: Sequence[SessionTally], names: Names) -> list[sj.PlanJson]:
    found: dict[tuple[str, int, str, str], int] = {}
    for tally in logged:
        key = (tally.plan_id, tally.plan_revision, tally.plan_digest, tally.prescriber)
        found[key] = found.get(key, 0) + 1
    return [
        {
            "id": names.plan(plan_id),
            "revision": revision,
            "sha256": digest,
            "prescriber": names.person(prescriber),
            "sessions": count,
        }
        for (plan_id, revision, digest, prescriber), count in found.items()
    ]


def _plan_now(case: Case, names: Names) -> sj.PlanNowJson | None:
    if case.plan is None:
        return None
    about = case.plan.plan.about
    return {
        "id": names.plan(about.id),
        "revision": about.revision,
        "sha256": case.plan.digest,
        "prescriber": names.person(about.prescriber),
        "clinic": names.person(about.clinic),
        "prescribed_on": about.prescribed_on.isoformat(),
        "valid_until": about.valid_until.isoformat(),
    }


def _lasers(logged: Sequence[SessionTally]) -> list[sj.LaserJson]:
    found: list[sj.LaserJson] = []
    for tally in logged:
        laser, area_um2 = tally.laser, tally.beam_area_um2
        check = laser.get("output_check") or {}
        measured_uw = check.get("measured_power_uw", tally.power_uw)
        one: sj.LaserJson = {
            "label": str(laser.get("label", "")),
            "laser_class": str(laser.get("laser_class", "")),
            "wavelength_nm": [str(wave) for wave in laser.get("wavelength_nm", ())],
            "mean_power_mw": rounded_number(mw_from_uw(tally.power_uw)),
            "beam_area_cm2": None
            if area_um2 is None
            else rounded_number(cm2_from_um2(area_um2), 4),
            "irradiance_mw_cm2": None
            if not area_um2
            else rounded_number(mw_from_uw(tally.power_uw) / cm2_from_um2(area_um2)),
            "emitters": [
                {name: str(emitter[name]) for name in PULSES if emitter.get(name) is not None}
                for emitter in laser.get("emitters", ())
            ],
            "techniques": sorted({technique_of(spot) for spot in tally.spots}),
            # None for a check that was not gone by: joules are computed with another power.
            "measured_on": check.get("on") if measured_uw == tally.power_uw else None,
            "sessions": 1,
        }
        for before in found:
            if {**before, "sessions": 1} == one:
                before["sessions"] += 1
                break
        else:
            found.append(one)
    return found


def _missed(session: Session, spot: SpotTally, names: Names) -> sj.MissedJson:
    return {
        "session": names.session(session.stem),
        "day": session.day,
        "region": spot.region,
        "side": spot.side,
        "aspect": spot.aspect,
        "number": spot.number,
        "of": spot.of,
        "outcome": spot.outcome,
        "reason": spot.reason,
        "prescribed_s": round_s(spot.planned_ns),
        "given_s": round_s(spot.given_ns),
    }


def _session(session: Session, names: Names) -> sj.SessionJson:
    tally, answers = session.tally, session.answers
    then = None if session.why_not else session.corrected
    total = None if tally is None else tally.total()
    counts = None if then is None else then.total()
    return {
        "session": names.session(session.stem),
        "opened": "" if tally is None else tally.opened_wall,
        "clock": "unknown" if tally is None else tally.trust,
        "who": names.person(session.helper),
        "counts": not session.why_not,
        "why_not": names.why_not(session.why_not),
        "state": "" if tally is None else tally.state,
        "reason": ("" if tally is None else tally.reason)
        or str((answers and answers.stop_reason) or ""),
        "spots": 0 if total is None else total.planned,
        "spots_given": 0 if total is None else total.whole,
        "spots_complete": 0 if counts is None else counts.whole,
        "prescribed_s": 0.0 if total is None else round_s(total.planned_ns),
        "given_s": 0.0 if total is None else round_s(total.given_ns),
        "counted_s": 0.0 if counts is None else round_s(counts.given_ns),
        "way_j": 0.0 if then is None else rounded_number(j_from_fj(then.way_fj)),
        "refused": []
        if tally is None
        else [
            {"point": asked.point, "answer": asked.answer, "outcome": asked.outcome}
            for asked in tally.refused
        ],
        "skin": answers.skin if answers else None,
        "tolerance_0_10": answers.tolerance_0_10 if answers else None,
        "words": names.text(answers.words) if answers else "",
        "overruled": list(tally.overruled) if tally is not None and names.shown else [],
        "journal": session.check.verdict,
        "signature": session.check.signature,
        "sha256": session.sha256,
    }


def _corrections(case: Case, names: Names) -> list[sj.CorrectionJson]:
    known = {session.stem for session in case.sessions}
    return [
        {
            "session": names.session(told.entry.session),
            "spot": told.entry.spot,
            "line": told.entry.line,
            "what": told.entry.what,
            "text": names.text(told.entry.text),
            "by": names.person(told.entry.by),
            "at": told.wall,
            "here": told.entry.session in known,
        }
        for told in case.diary.told
        if isinstance(told.entry, Correction)
    ]


def _course(case: Case, made: Made) -> sj.CourseJson | None:
    calendar = calendar_of(case, made)
    if calendar is None:
        return None
    figures, following = figures_of(case, calendar), calendar.next
    return {
        "start": calendar.start.isoformat(),
        "whole_course": figures.whole_course,
        "planned": figures.due,
        "due": figures.due,
        "begun": figures.begun,
        "complete": figures.complete,
        "in_part": [rounded_number(share, 6) for share in figures.in_part],
        "too_little": figures.too_little,
        "extra": figures.extra,
        "behind": figures.behind,
        "beyond": figures.beyond,
        "given": figures.given,
        "on_the_day": figures.on_the_day,
        "in_window": figures.in_window,
        "day_unknown": figures.day_unknown,
        "missed": calendar.count("missed", "ask"),
        "longest_gap_days": figures.longest_gap_days,
        "next_day": None if following is None else following.day.isoformat(),
        "dues": [
            {
                "number": due.number,
                "planned_on": due.planned_on.isoformat(),
                "day": due.day.isoformat(),
                "state": due.state,
            }
            for due in calendar.dues
        ],
    }


def _days(sessions: Sequence[Session]) -> list[sj.DayJson]:
    by_day: dict[str, list[SessionTally]] = {}
    for session in sessions:
        if session.corrected is not None:
            by_day.setdefault(session.day, []).append(session.corrected)
    return [
        {"day": day, "sessions": len(tallies), "state": _state(tallies)}
        for day, tallies in sorted(by_day.items())
    ]


def _state(tallies: Sequence[SessionTally]) -> str:
    totals = [tally.total() for tally in tallies]
    if any(total.whole == total.planned for total in totals):
        return "full"
    return "part" if any(total.given_ns for total in totals) else "none"


def _remarks(case: Case, names: Names) -> list[str]:
    if names.shown:
        return list(case.remarks)
    found = [
        f"session {names.session(session.stem)}: journal {session.check.verdict}"
        for session in case.sessions
        if session.check.verdict != "whole"
    ]
    left = len(case.remarks)
    return [*found, f"{left} remarks are left out with the names"] if left else found


def _term(key: str) -> str:
    try:
        return region(key).term
    except KeyError:
        # A region that a newer program knows.
        return key


def _maybe(value: Fraction | None) -> float | None:
    return None if value is None else rounded_number(value)


def round_s(duration_ns: int) -> float:
    """Seconds to three places."""
    return rounded_number(s_from_ns(duration_ns))


def rounded_number(value: Fraction | Decimal, places: int = 3) -> float:
    """A number for JSON."""
    return float(rounded(value, places))
