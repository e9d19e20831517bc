"""Tables for other programs: one row a spot given, one row a session; as CSV by RFC 4180. Pure.

Every column has its unit by UCUM (case-sensitive, https://ucum.org), or "" where it has none.
Seconds, joules and the like are decimal numbers with a point; a cell is empty where nothing is
known: an empty cell is never a nought.
"""

import csv
import io
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, NamedTuple

from coach.body import region
from coach.dose.energy import energy_fj
from coach.handover.anonymise import Names
from coach.handover.dog_case import Case, Session
from coach.record.tally import SessionTally, SpotTally
from coach.shown import plain
from coach.units import cm2_from_um2, j_from_fj, mw_from_uw, rounded, s_from_ns

# What this coach coaches, and nothing else: the head rests on the spot.
# A spreadsheet runs a cell that begins like this (people.md; the tab and the line end too).
_FORMULA = ("=", "+", "-", "@", "\uff1d", "\uff0b", "\uff0d", "\uff20")
# What may stand before a formula: blanks, signs without width, what was made a question mark.
_AHEAD = re.compile(r"^(?:[\s?\ufeff\u00ad\u200b-\u200d\u2060])+")


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its name, its unit by UCUM ("" for none), what stands in it."""

    name: str
    unit: str
    meaning: str


SPOT_COLUMNS = (
    Column("row", "", "session and spot: the same in every handover"),
    Column("session", "", "name of the journal without .jsonl"),
    Column("plan", "", "id of the plan"),
    Column("plan_revision", "", "revision of the plan"),
    Column("dog", "", "name"),
    Column("weight_kg", "kg", "as the plan states it"),
    Column("started", "", "begin of the first hold, RFC 3339 with offset"),
    Column("ended", "", "end of the last hold, RFC 3339 with offset"),
    Column("clock", "", "synchronised, rtc (not checked) or unknown (not to be trusted)"),
    Column("who", "", "who held the laser, as said"),
    Column("position", "", "how the dog was to lie"),
    Column("region", "", "key of the region"),
    Column("region_term", "", "trade term"),
    Column("uberon", "", "ids of the UBERON ontology, by blanks"),
    Column("prescriber_note", "", "the prescriber's words for the spot"),
    Column("side", "", "the dog's side, as logged"),
    Column("aspect", "", "face of a joint"),
    Column("spot_number", "{spot}", "this spot among those of its region, side and aspect"),
    Column("spots_of", "{spot}", "how many of those there are"),
    Column("settle", "", "yes: part of the calm opening"),
    Column("technique", "", "how the head was to be held"),
    Column("prescribed_s", "s", "time prescribed"),
    Column("given_s", "s", "time given as logged (coached, not measured)"),
    Column("outcome", "", "given, cut_short or skipped (after a part)"),
    Column("reason", "", "why it was cut short or skipped"),
    Column("interruptions", "", "reason of each pause on it, by blanks"),
    Column("repeats", "", "how often it was given once more"),
    Column("wavelength_nm", "nm", "prescribed, by blanks when several"),
    Column("mean_power_mw", "mW", "prescribed; measured where the plan states an output check"),
    Column("peak_power_mw", "mW", "prescribed, pulsed heads"),
    Column("frequency_hz", "Hz", "prescribed, pulsed heads"),
    Column("duty_cycle", "1", "prescribed, 0 to 1"),
    Column("beam_area_cm2", "cm2", "at the skin; empty when not stated"),
    Column("given_j", "J", "mean power x time given as logged"),
    Column("given_j_cm2", "J/cm2", "given_j over the beam area; empty when that is not stated"),
    Column("irradiance_mw_cm2", "mW/cm2", "mean power over the beam area"),
    Column("tolerance_0_10", "{score}", "how the dog put up with the session; 10 wholly at ease"),
    Column("signals", "", "seen on this spot, by blanks"),
    Column("skin", "", "after the session: fine, warm or red"),
    Column("correction", "", "what was corrected afterwards"),
    Column("counted_side", "", "the dog's side after the correction; empty when unknown"),
    Column("counted_s", "s", "time that counts for this region after the correction"),
    Column("counted_j", "J", "energy that counts for this region after the correction"),
    Column("treated_area_cm2", "cm2", "over which the head was to be moved; empty where it rests"),
    Column("given_j_cm2_over_area", "J/cm2", "given_j over the treated area, not under the beam"),
)

SESSION_COLUMNS = (
    Column("session", "", "name of the journal without .jsonl"),
    Column("plan", "", "id of the plan"),
    Column("plan_revision", "", "revision of the plan"),
    Column("dog", "", "name"),
    Column("opened", "", "RFC 3339 with offset"),
    Column("ended", "", "RFC 3339 with offset"),
    Column("clock", "", "synchronised, rtc (not checked) or unknown (not to be trusted)"),
    Column("who", "", "who held the laser, as said"),
    Column("counts", "", "yes or no"),
    Column("why_not", "", "why it does not count"),
    Column("state", "", "finished, stopped, cut_off or not_begun"),
    Column("reason", "", "why it was stopped"),
    Column("spots_planned", "{spot}", "spots of the session"),
    Column("spots_given", "{spot}", "spots that had all their time"),
    Column("spots_cut_short", "{spot}", "spots that had a part"),
    Column("spots_skipped", "{spot}", "spots left out by the owner"),
    Column("spots_not_reached", "{spot}", "spots not reached"),
    Column("prescribed_s", "s", "time prescribed"),
    Column("given_s", "s", "time given as logged (coached, not measured)"),
    Column("counted_s", "s", "time that counts after corrections"),
    Column("prescribed_j", "J", "energy prescribed"),
    Column("given_j", "J", "mean power x time given as logged"),
    Column("counted_j", "J", "energy that counts after corrections"),
    Column("way_j", "J", "up to so much more if the laser stayed on between spots"),
    Column("refused", "", "questions at which it ended before it began: point, answer, outcome"),
    Column("pauses", "", "how often it was paused"),
    Column("cuts", "", "how often it was carried on after a cut"),
    Column("overruled", "", "what spoke against the start, and the owner's reason"),
    Column("signals", "", "all that were seen, by blanks"),
    Column("skin", "", "after the session: fine, warm or red"),
    Column("tolerance_0_10", "{score}", "how the dog put up with it; 10 wholly at ease"),
    Column("words", "", "what the household said"),
    Column("corrections", "", "what was corrected afterwards, by blanks"),
    Column("journal", "", "whole, not_closed, damaged or unreadable"),
    Column("signature", "", "none, good, bad or other_key"),
    Column("journal_sha256", "", "of the journal file"),
)


def spot_rows(case: Case, names: Names) -> list[dict[str, str]]:
    """One row for each spot of a session that counts, or was thought to, on which time was given.

    What a correction takes away stays here, with what counts now.
    """
    rows = []
    for session in case.sessions:
        if session.tally is None or (session.why_not and not session.corrections):
            continue
        tally = session.tally
        if tally.dog != case.dog or tally.rehearsal:
            continue
        for spot in tally.spots:
            if spot.given_ns:
                rows.append(_spot_row(session, tally, spot, names))
                rows += _across_rows(session, tally, spot, rows[-1])
    return rows


def _across_rows(
    session: Session, tally: SessionTally, spot: SpotTally, row: Mapping[str, str]
) -> list[dict[str, str]]:
    """A row more where some holds of a spot count on the other side, and others do not."""
    counted = _counted(session, spot)
    if not counted.across_ns:
        return []
    moved = {
        "row": f"{row['row']}-other-side",
        "given_s": "0",
        "given_j": "0",
        "given_j_cm2": decimal(tally.fluence_j_cm2(spot, 0)),
        "counted_side": counted.across,
        "counted_s": decimal(s_from_ns(counted.across_ns)),
        "counted_j": decimal(joules(tally, counted.across_ns)),
    }
    return [{**row, **moved}]


def session_rows(case: Case, names: Names) -> list[dict[str, str]]:
    """One row for each journal, also for those that do not count."""
    return [_session_row(session, names) for session in case.sessions]


def csv_bytes(columns: Sequence[Column], rows: Iterable[Mapping[str, str]]) -> bytes:
    """RFC 4180: CRLF, doubled quotes, UTF-8, a heading; no cell begins like a formula."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow([column.name for column in columns])
    for row in rows:
        writer.writerow([harmless(row[column.name]) for column in columns])
    return text.getvalue().encode("utf-8")


def harmless(cell: str) -> str:
    """``cell`` with a quote before it where a spreadsheet would run it; a number stays one.

    A spreadsheet may pass over blanks, signs without width and escape sequences.
    """
    runs = cell.startswith(("\t", "\r")) or _AHEAD.sub("", plain(cell)).startswith(_FORMULA)
    return f"'{cell}" if runs and not _is_number(cell) else cell


def decimal(value: Fraction | None, places: int = 3) -> str:
    """A number for a cell; "" for what is not known."""
    if value is None:
        return ""
    text = f"{rounded(value, places):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def joules(tally: SessionTally, duration_ns: int) -> Fraction:
    """Energy of ``duration_ns`` at the mean power of the session."""
    return j_from_fj(energy_fj(power_uw=tally.power_uw, duration_ns=duration_ns))


def _is_number(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return cell.strip() == cell


def _spot_row(
    session: Session, tally: SessionTally, spot: SpotTally, names: Names
) -> dict[str, str]:
    laser, area_um2 = tally.laser, tally.beam_area_um2
    answers = session.answers
    counted = _counted(session, spot)
    emitters = laser.get("emitters", ())
    stem = names.session(session.stem)
    return {
        "row": f"{stem}#{spot.index + 1}",
        "session": stem,
        "plan": names.plan(tally.plan_id),
        "plan_revision": str(tally.plan_revision),
        "dog": names.dog(tally.dog),
        "weight_kg": tally.weight_kg,
        "started": spot.started_wall or "",
        "ended": spot.ended_wall or "",
        "clock": tally.trust,
        "who": names.person(session.helper),
        "position": session.positions[spot.index] or "",
        "region": spot.region,
        "region_term": _term(spot.region),
        "uberon": " ".join(f"UBERON:{code}" for code in _uberon(spot.region)),
        "prescriber_note": names.text(spot.note),
        "side": spot.side,
        "aspect": spot.aspect or "",
        "spot_number": str(spot.number),
        "spots_of": str(spot.of),
        "settle": "yes" if spot.settle else "no",
        "technique": technique_of(spot),
        "prescribed_s": decimal(s_from_ns(spot.planned_ns)),
        "given_s": decimal(s_from_ns(spot.given_ns)),
        "outcome": spot.outcome,
        "reason": spot.reason,
        "interruptions": " ".join(spot.pauses),
        "repeats": str(spot.repeats),
        "wavelength_nm": " ".join(laser.get("wavelength_nm", ())),
        "mean_power_mw": decimal(mw_from_uw(tally.power_uw)),
        "peak_power_mw": _each(emitters, "peak_power_mw"),
        "frequency_hz": _each(emitters, "frequency_hz"),
        "duty_cycle": _each(emitters, "duty_cycle"),
        "beam_area_cm2": "" if area_um2 is None else decimal(cm2_from_um2(area_um2), 4),
        "given_j": decimal(joules(tally, spot.given_ns)),
        "given_j_cm2": decimal(tally.fluence_j_cm2(spot, spot.given_ns)),
        "irradiance_mw_cm2": ""
        if area_um2 is None
        else decimal(mw_from_uw(tally.power_uw) / cm2_from_um2(area_um2)),
        "tolerance_0_10": _said(answers and answers.tolerance_0_10),
        "signals": " ".join(
            name for seen in session.signals if seen.spot == spot.index for name in seen.signals
        ),
        "skin": _said(answers and answers.skin),
        "correction": counted.what,
        "counted_side": counted.side,
        "counted_s": decimal(s_from_ns(counted.counted_ns)),
        "counted_j": decimal(joules(tally, counted.counted_ns)),
        "treated_area_cm2": ""
        if spot.treated_area_um2 is None
        else decimal(cm2_from_um2(spot.treated_area_um2), 4),
        "given_j_cm2_over_area": decimal(tally.area_fluence_j_cm2(spot, spot.given_ns)),
    }


def technique_of(spot: SpotTally) -> str:
    """How the head was to be held; contact where the plan does not say, as it always was."""
    how = "contact"
    if spot.distance_mm is not None:
        how = f"{decimal(Fraction(spot.distance_mm, 10))} cm off the skin"
    elif spot.contact is False:
        how = "off the skin"
    return f"{how}, head {'held still' if spot.treated_area_um2 is None else 'moved'}"


class _Counted(NamedTuple):
    """What counts of a spot: what was corrected, the side ("" = unknown), the time; and what of it
    counts on another side besides."""

    what: str
    side: str
    counted_ns: int
    across: str = ""
    across_ns: int = 0


def _counted(session: Session, spot: SpotTally) -> _Counted:
    if session.why_not or session.corrected is None:
        return _Counted("not_this_dog" if session.corrected is None else "", "", 0)
    taken = session.effects.get(spot.index, {})
    what = " ".join(taken)
    kept_ns = spot.given_ns - sum(taken.values())
    across = spot.site.across
    moved_ns = taken.get("wrong_side", 0)
    if kept_ns == 0 and len(taken) == 1 and "wrong_side" in taken:
        return _Counted(what, "", 0) if across is None else _Counted(what, across.side, moved_ns)
    if across is None or not moved_ns:
        known = kept_ns > 0 or "wrong_region" not in taken
        return _Counted(what, spot.side if known else "", kept_ns)
    return _Counted(what, spot.side, kept_ns, across.side, moved_ns)


def _session_row(session: Session, names: Names) -> dict[str, str]:
    tally, answers = session.tally, session.answers
    row = dict.fromkeys((column.name for column in SESSION_COLUMNS), "")
    row |= {
        "session": names.session(session.stem),
        "who": names.person(session.helper),
        "counts": "no" if session.why_not else "yes",
        "why_not": names.why_not(session.why_not),
        "signals": " ".join(name for seen in session.signals for name in seen.signals),
        "skin": _said(answers and answers.skin),
        "tolerance_0_10": _said(answers and answers.tolerance_0_10),
        "words": names.text(answers.words) if answers else "",
        "corrections": " ".join(what_of(session)),
        "journal": session.check.verdict,
        "signature": session.check.signature,
        "journal_sha256": session.sha256,
    }
    if tally is None:
        return row
    total = tally.total()
    count = {
        name: sum(spot.outcome == name for spot in tally.spots)
        for name in ("given", "cut_short", "skipped", "not_reached")
    }
    counted = None if session.why_not or session.corrected is None else session.corrected
    counts = None if counted is None else counted.total()
    return row | {
        "plan": names.plan(tally.plan_id),
        "plan_revision": str(tally.plan_revision),
        "dog": names.dog(tally.dog),
        "opened": tally.opened_wall,
        "ended": tally.ended_wall,
        "clock": tally.trust,
        "state": tally.state,
        "reason": tally.reason or _said(answers and answers.stop_reason),
        "spots_planned": str(total.planned),
        **{f"spots_{name}": str(number) for name, number in count.items()},
        "prescribed_s": decimal(s_from_ns(total.planned_ns)),
        "given_s": decimal(s_from_ns(total.given_ns)),
        "counted_s": decimal(s_from_ns(counts.given_ns if counts else 0)),
        "prescribed_j": decimal(j_from_fj(total.planned_fj)),
        "given_j": decimal(j_from_fj(total.given_fj)),
        "counted_j": decimal(j_from_fj(counts.given_fj if counts else 0)),
        "way_j": decimal(j_from_fj(counted.way_fj if counted else 0)),
        "refused": "; ".join(" ".join(asked) for asked in tally.refused),
        "pauses": str(sum(len(spot.pauses) for spot in tally.spots)),
        "cuts": str(tally.cuts),
        "overruled": names.text("; ".join(tally.overruled)),
    }


def what_of(session: Session) -> list[str]:
    """What the corrections of a session say, in order."""
    return [str(getattr(told.entry, "what", "")) for told in session.corrections]


def _each(emitters: Sequence[Mapping[str, Any]], name: str) -> str:
    return " ".join(str(emitter[name]) for emitter in emitters if emitter.get(name) is not None)


def _said(value: object) -> str:
    return "" if value is None else str(value)


def _term(key: str) -> str:
    try:
        return region(key).term
    except KeyError:
        # A region that a newer program knows.
        return ""


def _uberon(key: str) -> tuple[str, ...]:
    try:
        return region(key).uberon
    except KeyError:
        return ()
