"""``report.pdf``: one page for the usual case, drawn from the summary and nothing else.

Subjective and objective are filled in from the record; assessment and plan are the vet's and stay
empty. Every figure is one of ``summary.json``.
"""

import datetime
from collections import Counter
from collections.abc import Mapping, Sequence

from coach.handover import pictures
from coach.handover.page import BODY_PT, TRANSLITERATED, Page
from coach.handover.summary_json import (
    CorrectionJson,
    CourseJson,
    LaserJson,
    PlaceJson,
    SessionJson,
    SummaryJson,
)
from coach.record.after_questions import DOG_REASONS
from coach.reports.corrections_text import CORRECTION_WORDS
from coach.reports.session_text import REASON_WORDS
from coach.session.went_wrong import BY_ID

MOST_WORDS = 3
MOST_FIRST = 1200
MOST_LISTED = 6
# For some lines by hand.
ROOM_MM = 13
_WIDTHS = (0.35, 0.09, 0.11, 0.16, 0.15, 0.14)


def report_pdf(summary: SummaryJson) -> bytes:
    """The report as PDF: the same summary gives the same bytes."""
    made_at = datetime.datetime.fromisoformat(summary["made"]["at"])
    dog = summary["dog"]
    page = Page(
        summary["made"]["paper"], made_at=made_at, title=f"At-home laser sessions: {dog['name']}"
    )
    page.last_line = (
        f"Coached, not measured. Record SHA-256 {summary['record']['sha256'][:32]}…, "
        f"made {summary['made']['at'][:16].replace('T', ' ')}, program {summary['made']['program']}"
    )
    _head(page, summary)
    _subjective(page, summary)
    _objective(page, summary)
    _for_the_vet(page)
    _trust(page, summary)
    return bytes(page.output())


def look_first(summary: SummaryJson) -> list[str]:
    """What a vet with a minute must not miss, the most urgent first; nothing where all is well."""
    found: list[str] = []
    red = [one["opened"][:10] for one in summary["sessions"] if one["skin"] == "red"]
    if red:
        found.append(f"red skin after {_dates(red)}")
    stops = [
        one["opened"][:10]
        for one in summary["sessions"]
        if one["state"] == "stopped" and one["reason"] in DOG_REASONS and one["counts"]
    ]
    if stops:
        found.append(f"stopped for the dog on {_dates(stops)}")
    refused = [one for one in summary["sessions"] if one["refused"]]
    if refused:
        asked = "; ".join(_refused(one) for one in refused[-MOST_LISTED:])
        found.append(f"{_counted(len(refused), 'start')} refused at the questions ({asked})")
    course = summary["course"]
    if course is not None:
        if course["beyond"]:
            found.append(f"{_counted(course['beyond'], 'session')} beyond the course")
        if course["extra"]:
            found.append(f"{_counted(course['extra'], 'session')} more than due")
        if course["behind"]:
            found.append(f"{_counted(course['behind'], 'session')} fewer than due")
    said = [one["opened"][:10] for one in summary["sessions"] if one["words"]]
    if said:
        found.append(f"the owner's words on {_dates(said)}")
    if summary["remarks"]:
        shown = summary["remarks"][:MOST_LISTED]
        more = len(summary["remarks"]) - len(shown)
        rest = f" / and {more} more" if more else ""
        found.append(f"the record: {' / '.join(shown)}{rest}")
    return found


def _dates(days: Sequence[str]) -> str:
    more = len(days) - MOST_LISTED
    text = ", ".join(days[-MOST_LISTED:])
    return f"{text} and {more} earlier" if more > 0 else text


def _refused(session: SessionJson) -> str:
    asked = ", ".join(
        f"{one['point']}: {one['answer']}, {one['outcome']}" for one in session["refused"]
    )
    return f"{session['opened'][:10]} {asked}".replace("_", " ")


def _head(page: Page, summary: SummaryJson) -> None:
    dog, totals = summary["dog"], summary["totals"]
    page.bold(f"At-home laser sessions: {dog['name']}", size=13)
    page.ln(6)
    # A handover of an older program has none.
    if summary.get("went_wrong"):
        told = (f"{wrong['at'][:10]} {_accident(wrong['what'])}" for wrong in summary["went_wrong"])
        page.box(("WENT WRONG. " + "; ".join(told))[:1200])
    first = look_first(summary)
    if first:
        page.box(f"Look first: {'; '.join(first)}."[:MOST_FIRST])
    else:
        page.lines("Nothing to look at first.")
        page.ln(1)
    left, top, half = page.l_margin, page.get_y(), page.epw / 2
    page.named(
        "Dog", _joined(dog["name"], dog["weight_kg"] and f"{dog['weight_kg']} kg"), width=half
    )
    page.named("Period", _period(summary), width=half)
    now = summary["plan_now"]
    for plan in summary["plans"][-3:]:
        in_use = now is not None and plan["sha256"] == now["sha256"]
        text = _joined(
            f"{plan['id']}, revision {plan['revision']}",
            plan["prescriber"] and f"prescribed by {plan['prescriber']}",
            f"valid until {now['valid_until']}" if in_use and now is not None else "",
            _counted(plan["sessions"], "session"),
        )
        page.named("Plan", text, width=half - 4)
    if now is not None and now["sha256"] not in {plan["sha256"] for plan in summary["plans"]}:
        text = f"{now['id']}, revision {now['revision']}, valid until {now['valid_until']}"
        page.named("In use", text, width=half - 4)
    if summary["course"] is not None:
        page.named("Course", _course_text(summary["course"]), width=half - 4)
    below = page.get_y()
    page.set_xy(left + half, top)
    for laser in summary["lasers"][-3:]:
        page.named("Laser", _laser_text(laser), width=half)
    page.named(
        "Sessions",
        f"{totals['sessions_counted']} counted of {totals['sessions_logged']} logged; "
        f"{totals['spots_complete']} of {totals['spots']} spots complete"
        + (
            ""
            if totals["spots_given"] == totals["spots_complete"]
            else f" after corrections ({totals['spots_given']} as logged)"
        )
        + (
            f"; up to {_n(totals['way_j'])} J more if the laser stayed on between spots"
            if totals["way_j"]
            else ""
        ),
        width=half,
    )
    page.set_xy(left, max(below, page.get_y()))


def _objective(page: Page, summary: SummaryJson) -> None:
    page.heading("O: given / prescribed, by region and side")
    if not summary["places"]:
        page.lines("No session that counts: nothing was given.")
        return
    _table(page, summary["places"], summary)
    if any(place["counted_j_cm2_a_spot"] is None for place in summary["places"]):
        page.lines("J/cm2 is blank where the beam area is not stated.", size=7)
    page.heading("Coverage over the whole period")
    pictures.coverage(page, summary)
    page.heading(
        "Days: filled = every spot had its time, half = a part, crossed = nothing, ring = due"
    )
    pictures.days(page, summary)
    _scores_and_stops(page, summary)
    _corrections(page, summary["corrections"])


def _table(page: Page, places: Sequence[PlaceJson], summary: SummaryJson) -> None:
    widths = [page.epw * share for share in _WIDTHS]
    corrected = summary["totals"]["given_s"] != summary["totals"]["counted_s"]
    page.row(("region", "side", "spots", "seconds", "J", "J/cm2 a spot"), widths, strong=True)
    shown = ""
    for place in places:
        words = "" if place["region"] == shown else place["term"]
        shown = place["region"]
        page.row((words, place["side"], *_figures(place)), widths)
        if place["given_s"] != place["counted_s"]:
            logged = f"{_n(place['given_s'])} logged"
            page.row(("", "", "", logged, f"{_n(place['given_j'])} logged", ""), widths)
    totals = summary["totals"]
    spots = f"{totals['spots_complete']}/{totals['spots']}"
    seconds = f"{_n(totals['counted_s'])}/{_n(totals['prescribed_s'])}"
    joules = f"{_n(totals['counted_j'])}/{_n(totals['prescribed_j'])}"
    page.row(("all", "", spots, seconds, joules, ""), widths, strong=True)
    if corrected:
        page.lines(
            f"After corrections; the logs say {_n(totals['given_s'])} s and "
            f"{_n(totals['given_j'])} J and {totals['spots_given']} complete spots.",
            size=7,
        )


def _figures(place: PlaceJson) -> tuple[str, str, str, str]:
    given, due = place["counted_j_cm2_a_spot"], place["prescribed_j_cm2_a_spot"]
    fluence = "" if given is None or due is None else f"{_n(given)}/{_n(due)}"
    return (
        f"{place['spots_complete']}/{place['spots']}",
        f"{_n(place['counted_s'])}/{_n(place['prescribed_s'])}",
        f"{_n(place['counted_j'])}/{_n(place['prescribed_j'])}",
        fluence,
    )


def _scores_and_stops(page: Page, summary: SummaryJson) -> None:
    page.heading("How the dog took it")
    half, height = page.epw / 2, 25.0
    if page.will_page_break(height):
        page.add_page()
    left, top = page.l_margin, page.get_y()
    function = [
        (_day(score["at"]), score["score_0_10"])
        for score in summary["scores"]
        if score["score_0_10"] is not None
    ]
    tolerance = [
        (_day(session["opened"]), session["tolerance_0_10"])
        for session in summary["sessions"]
        if session["tolerance_0_10"] is not None and session["opened"] and session["counts"]
    ]
    if function or tolerance:
        pictures.scores(page, function, tolerance, width=half - 4, height=height)
        bottom = top + height
    else:
        page.lines("No scores were said.", width=half - 4)
        bottom = page.get_y()
    page.set_xy(left + half, top)
    for name, texts in (
        ("Stops", _stops(summary)),
        ("Signals", _signals(summary)),
        ("Skin", _skin(summary)),
        ("Not given", _missed(summary)),
        ("News", _news(summary)),
    ):
        page.named(name, _some(texts), width=half)
    page.set_xy(left, max(bottom, page.get_y()))


def _stops(summary: SummaryJson) -> list[str]:
    return [
        f"{session['opened'][:10]} {_why(session)}"
        for session in summary["sessions"]
        if session["counts"] and session["state"] in ("stopped", "cut_off")
    ]


def _why(session: SessionJson) -> str:
    if session["state"] == "cut_off":
        return "cut off"
    return REASON_WORDS.get(session["reason"], session["reason"].replace("_", " "))


def _signals(summary: SummaryJson) -> list[str]:
    return [
        f"{seen['at'][:10]} {', '.join(seen['signals']).replace('_', ' ')}"
        for seen in summary["signals"]
        if seen["signals"]
    ]


def _news(summary: SummaryJson) -> list[str]:
    return [
        f"{asked['session'].split('-')[1][:8]} {asked['point']} ({asked['outcome']})".replace(
            "_", " "
        )
        for asked in summary["asked"]
    ]


def _skin(summary: SummaryJson) -> list[str]:
    return [
        f"{session['opened'][:10]} {session['skin']}"
        for session in summary["sessions"]
        if session["skin"] not in (None, "fine")
    ]


def _missed(summary: SummaryJson) -> list[str]:
    reasons = Counter((spot["outcome"], spot["reason"]) for spot in summary["missed"])
    return [
        _joined(
            f"{_counted(count, 'spot')} {outcome.replace('_', ' ')}",
            REASON_WORDS.get(reason, reason.replace("_", " ")),
        )
        for (outcome, reason), count in reasons.most_common()
    ]


def _corrections(page: Page, corrections: Sequence[CorrectionJson]) -> None:
    if not corrections:
        return
    page.heading("Corrections by the household (the logs stay as they are)")
    for entry in corrections[:MOST_LISTED]:
        where = f"spot {entry['spot']}" if entry["spot"] else "whole session"
        if entry["line"] and not entry["spot"]:
            where = f"line {entry['line']}"
        text = _joined(
            f"{entry['session']}, {where}: {CORRECTION_WORDS.get(entry['what'], entry['what'])}",
            entry["text"],
            entry["by"] and f"said by {entry['by']}",
            f"entered {entry['at'][:10]}",
            "" if entry["here"] else "that session is not in this handover",
        )
        page.lines(text, most=2)
    if len(corrections) > MOST_LISTED:
        page.lines(f"and {len(corrections) - MOST_LISTED} more in summary.json")


def _subjective(page: Page, summary: SummaryJson) -> None:
    page.heading("S: what the household said")
    said = [session for session in summary["sessions"] if session["words"]]
    latest = [score for score in summary["scores"] if score["activities"] or score["total"]]
    if not said and not latest:
        page.lines("Nothing was written down.")
    for session in said[-MOST_WORDS:]:
        page.lines(f"{session['opened'][:10]}: {session['words']}", most=3)
    if len(said) > MOST_WORDS:
        page.lines(f"and {len(said) - MOST_WORDS} more in sessions.csv")
    if latest:
        score = latest[-1]
        activities = ", ".join(f"{name} {value}" for name, value in score["activities"].items())
        total = f"{score['instrument']}: total {_n(score['total'])}" if score["total"] else ""
        page.lines(
            _joined(
                f"{score['at'][:10]}", activities and f"{activities} (0 to 4, 4 is best)", total
            )
        )


def _for_the_vet(page: Page) -> None:
    """Room for assessment and plan, side by side, and for a signature."""
    if page.will_page_break(ROOM_MM + 8):
        page.add_page()
    page.ln(1)
    left, top, half = page.l_margin, page.get_y(), page.epw / 2
    names = ("A: assessment (the vet's)", "P: plan (the vet's)")
    for column, name in enumerate(names):
        page.rect(left + column * half, top, half, ROOM_MM + 4)
        page.set_xy(left + column * half + 1, top + 0.5)
        page.bold(name)
    page.set_font_size(6.5)
    page.set_xy(left + half + 1, top + ROOM_MM + 0.6)
    page.cell(half - 2, 3, "date and signature of the vet:")
    page.set_font_size(BODY_PT)
    page.set_xy(left, top + ROOM_MM + 5)


def _trust(page: Page, summary: SummaryJson) -> None:
    record = summary["record"]
    journals = Counter(session["journal"].replace("_", " ") for session in summary["sessions"])
    signed = Counter(
        f"signature {session['signature'].replace('_', ' ')}" for session in summary["sessions"]
    )
    told = ", ".join(f"{count} {name}" for name, count in (*journals.items(), *signed.items()))
    page.lines(f"How it was counted: {summary['how_counted']}", size=6.5)
    page.lines(f"Logs: {told or 'none'}. Record SHA-256 {record['sha256']}", size=6.5)
    if record["signature"]:
        page.lines(
            f"signed {record['signature']} by the device with public key {record['public_key']}. "
            "coach verify FOLDER computes every figure anew from the logs beside this page.",
            size=6.5,
        )
    if page.transliterated:
        page.lines(TRANSLITERATED, size=6.5)


def _laser_text(laser: LaserJson) -> str:
    waves = laser["wavelength_nm"]
    area, irradiance = laser["beam_area_cm2"], laser["irradiance_mw_cm2"]
    return _joined(
        str(laser["label"]),
        laser["laser_class"] and f"class {laser['laser_class']}",
        f"{' and '.join(map(str, waves))} nm" if isinstance(waves, list) else "",
        *(_pulses_text(emitter) for emitter in laser["emitters"]),
        f"{_n(laser['mean_power_mw'])} mW mean"
        + (f" (measured {laser['measured_on']})" if laser["measured_on"] else " as stated"),
        "beam area not stated" if not area else f"{_n(area)} cm2 at the skin",
        "" if irradiance is None else f"{_n(irradiance)} mW/cm2",
        *laser["techniques"],
    )


def _pulses_text(emitter: Mapping[str, str]) -> str:
    """``peak 25000 mW, 1 kHz``; "" for an emitter that does not pulse."""
    parts = (
        ("peak_power_mw", "peak {} mW"),
        ("frequency_hz", "{} Hz"),
        ("duty_cycle", "duty {}"),
        ("pulse_width_us", "pulses of {} us"),
    )
    return ", ".join(words.format(emitter[name]) for name, words in parts if name in emitter)


def _course_text(course: CourseJson) -> str:
    gap, following = course["longest_gap_days"], course["next_day"]
    return _joined(
        f"{course['due']} of {course['whole_course']} due so far, {course['begun']} begun "
        f"({course['complete']} complete{_in_part(course)})",
        f"{course['extra']} more than due" if course["extra"] else "",
        f"{course['behind']} fewer than due" if course["behind"] else "",
        f"{course['too_little']} too small a part to count" if course["too_little"] else "",
        f"{course['on_the_day']} on the day",
        "" if course["in_window"] is None else f"{course['in_window']} in the window",
        f"{course['missed']} missed" if course["missed"] else "",
        "" if gap is None else f"longest gap {_counted(gap, 'day')}",
        "course done" if following is None else f"next {following}",
    )


def _in_part(course: CourseJson) -> str:
    count = course["begun"] - course["complete"]
    if not count:
        return ""
    shares = [f"{int(share * 100)} %" for share in course["in_part"]]
    told = f": {', '.join(shares[:MOST_LISTED])}" if shares else ""
    return f", {count} in part{told}"


def _period(summary: SummaryJson) -> str:
    if summary["first_day"] is None:
        return "no session that counts"
    text = f"{summary['first_day']} to {summary['last_day']}"
    since = summary["made"]["since"]
    return f"{text} (asked for since {since})" if since else text


def _some(texts: Sequence[str]) -> str:
    if not texts:
        return "none"
    more = f"; {len(texts) - MOST_LISTED} earlier" if len(texts) > MOST_LISTED else ""
    return "; ".join(texts[-MOST_LISTED:]) + more


def _accident(what: str) -> str:
    return BY_ID[what].text if what in BY_ID else what.replace("_", " ")


def _joined(*parts: object) -> str:
    return ", ".join(str(part) for part in parts if part)


def _counted(number: int, thing: str) -> str:
    return f"{number} {thing}{'s' * (number != 1)}"


def _day(moment: str) -> datetime.date:
    return datetime.date.fromisoformat(moment[:10])


def _n(value: object) -> str:
    """A number of the summary to two places, without idle noughts."""
    text = f"{float(str(value)):.2f}"
    return text.rstrip("0").rstrip(".")
