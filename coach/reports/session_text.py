"""The tally as plain text for a terminal of 60 columns. Pure."""

import textwrap
from collections import Counter
from collections.abc import Iterable, Sequence
from fractions import Fraction

from coach.body import told
from coach.body.regions import SIDES
from coach.language import N_, _, ngettext, number
from coach.record.course_tally import Sums, course_of
from coach.record.part import Part
from coach.record.tally import SessionTally, SpotTally
from coach.session.went_wrong import name_text
from coach.units import j_from_fj, rounded, s_from_ns

WIDTH = 60
COACHED = N_("Counted by the timer (coached), not measured.")

STATE_WORDS = {
    "finished": N_("finished"),
    "stopped": N_("stopped early"),
    "cut_off": N_("not closed: cut off, or still running"),
    "not_begun": N_("opened, but never begun"),
}
REASON_WORDS = {
    "asked": N_("by the owner's wish"),
    "sore": N_("sore"),
    "out_of_reach": N_("out of reach"),
    "dog_objects": N_("the dog objected"),
    "lump_or_wound": N_("a lump or wound"),
    "dog_unhappy": N_("the dog was unhappy"),
    "hot_skin": N_("the skin felt hot"),
    "no_time": N_("no time left"),
    "not_ready": N_("not ready today"),
    "went_wrong": N_("something went wrong"),
    "closed": N_("the program was closed"),
    "cut_off": N_("cut off"),
    "dog_moved": N_("the dog moved"),
    "contact_lost": N_("contact lost"),
    "no_answer": N_("nobody answered"),
    "wrong_side": N_("corrected: the other side was treated"),
    "wrong_region": N_("corrected: another place was treated"),
    "laser_was_off": N_("corrected: the laser was off"),
}
TRUST_WORDS = {
    "synchronised": "",
    "rtc": N_(" (clock not checked)"),
    "unknown": N_(" (clock not to be trusted)"),
}
NOTICE_WORDS = {
    "no_sound_device": N_("no sound device"),
    "sound_device_ok": N_("sound device ok"),
    "sound_device_gone": N_("sound device gone"),
    "sound_device_back": N_("sound device back"),
    "player_restarted": N_("player restarted"),
    "player_lost": N_("player lost"),
    "words_not_made": N_("some words not said"),
}
OUTCOME_WORDS = {
    "cut_short": N_("cut short"),
    "skipped": N_("skipped"),
    "not_reached": N_("not reached"),
}


def report_lines(tally: SessionTally) -> list[str]:
    """One session, at most 60 columns wide."""
    lines = [
        line
        for what in tally.went_wrong
        for line in _wrapped(_("WENT WRONG: {what}").format(what=name_text(what)))
    ]
    lines += _wrapped(
        _("{dog}: plan {plan}, revision {revision}, prescribed by {name}").format(
            dog=tally.dog,
            plan=tally.plan_id,
            revision=tally.plan_revision,
            name=tally.prescriber,
        )
    )
    lines += _wrapped(_heading(tally))
    if tally.rehearsal:
        lines.append(_("REHEARSAL, laser off: nothing of this counts."))
    if tally.repaired:
        lines += _wrapped(
            _("REPAIRED: {what}; what was left out is not counted.").format(what=tally.repaired)
        )
    lines.append(_columns())
    shown = ""
    for (key, side), spots in tally.by_side().items():
        if key != shown:
            lines += _wrapped(_region_words(key))
            shown = key
        lines += _row(_side(side), tally.total(spots), _fluences(tally, spots))
        lines += _swept(tally, spots)
    lines += _row(_("all"), tally.total(), "")
    lines += _missed(tally)
    lines += _left(tally)
    for spot in tally.spots:
        if spot.repeats:
            lines += _item(
                _("{place}: given again ({count} x)").format(place=_place(spot), count=spot.repeats)
            )
    if tally.overruled:
        *against, because = tally.overruled
        lines += _wrapped(
            _("Started by the owner although {reasons}: {because}").format(
                reasons="; ".join(against), because=because
            )
        )
    for notice in dict.fromkeys(tally.notices):
        words = _(NOTICE_WORDS.get(notice, notice.replace("_", " ")))
        lines += _item(_("meanwhile: {what}").format(what=words))
    for problem in tally.problems:
        lines += _item(_("DOES NOT FIT: {problem}").format(problem=problem))
    return [*lines, *way_lines(tally.way_fj), _(COACHED)]


def way_lines(way_fj: int) -> list[str]:
    """What may have been given besides what was counted; nothing for a laser with a button."""
    if not way_fj:
        return []
    return _wrapped(
        _(
            "Up to {joules} J more if the laser stayed on and the head on the dog between spots."
        ).format(joules=_joules(way_fj))
    )


def course_lines(tallies: Sequence[SessionTally]) -> list[str]:
    """Several sessions: each by itself, then the sums for each dog."""
    lines: list[str] = []
    for tally in tallies:
        lines += [*report_lines(tally), ""]
    for dog in dict.fromkeys(tally.dog for tally in tallies):
        of_dog = [tally for tally in tallies if tally.dog == dog]
        if len(of_dog) > 1:
            lines += [*_course(dog, of_dog), ""]
    return lines[:-1]


def _heading(tally: SessionTally) -> str:
    moment = tally.opened_wall[:16].replace("T", " ") + _(TRUST_WORDS[tally.trust])
    text = _("Session of {moment}: {state}").format(
        moment=moment, state=_(STATE_WORDS[tally.state])
    )
    if tally.reason and tally.state == "stopped":
        text += _why(tally.reason)
    if tally.cuts:
        text += _("; carried on after a cut ({count} x)").format(count=tally.cuts)
    return text


def _course(dog: str, tallies: list[SessionTally]) -> list[str]:
    course = course_of(Sums.of(tallies))
    left_out = len(tallies) - course.sessions
    together = ngettext(
        "{dog}: {count} session together", "{dog}: {count} sessions together", course.sessions
    )
    lines = [together.format(dog=dog, count=course.sessions)]
    if left_out:
        lines.append(_("({count} not counted: rehearsed or never begun)").format(count=left_out))
    lines.append(_columns())
    shown = ""
    for side in course.sides:
        if side.region != shown:
            lines += _wrapped(_region_words(side.region))
            shown = side.region
        pairs = [(spot.given_j_cm2, spot.planned_j_cm2) for spot in side.spots]
        lines += _row(_side(side.side), side.part, _fluence_text(pairs))
    if any(spot.given_j_cm2 is None for side in course.sides for spot in side.spots):
        lines += _wrapped(
            _("J/cm2 is blank where the beam area is unknown or was not always the same.")
        )
    return [*lines, *way_lines(course.way_fj), _(COACHED)]


def _region_words(key: str) -> str:
    try:
        place = told(key)
    except KeyError:
        # A region that a newer program knows: its key is all that there is to say.
        return key
    return f"{place.owner_words} / {place.term}"


def _row(name: str, total: Part, fluence: str) -> list[str]:
    """One line, or several where the values are too long for one."""
    spots = f"{total.whole}/{total.planned}"
    seconds = f"{_seconds(total.given_ns)}/{_seconds(total.planned_ns)}"
    joules = f"{_joules(total.given_fj)}/{_joules(total.planned_fj)}"
    row = f"  {name:7}{spots:>6} {seconds:>12} {joules:>15}"
    whole = f"{row} {fluence:>15}".rstrip()
    if len(whole) <= WIDTH:
        return [whole]
    per_spot = _("J/cm2 a spot: {values}").format(values=fluence)
    apart = [per_spot.rjust(WIDTH)] if fluence else []
    if len(row) <= WIDTH:
        return [row, *apart]
    return [
        f"  {name:7}{spots:>6}",
        f"{seconds} s".rjust(WIDTH),
        f"{joules} J".rjust(WIDTH),
        *apart,
    ]


def _fluences(tally: SessionTally, spots: Iterable[SpotTally]) -> str:
    return _fluence_text(
        [
            (tally.fluence_j_cm2(spot, spot.given_ns), tally.fluence_j_cm2(spot, spot.planned_ns))
            for spot in spots
        ]
    )


def _swept(tally: SessionTally, spots: Iterable[SpotTally]) -> list[str]:
    """A line for each sweep: J/cm2 over its area, which are not those under the beam."""
    return [
        line
        for spot in spots
        if spot.treated_area_um2 is not None
        for line in _wrapped(
            _("  moved over {area} cm2: {given}/{planned} J/cm2 over the area").format(
                area=number(rounded(Fraction(spot.treated_area_um2, 10**8), 2)),
                given=_one(tally.area_fluence_j_cm2(spot, spot.given_ns)),
                planned=_one(tally.area_fluence_j_cm2(spot, spot.planned_ns)),
            )
        )
    ]


def _one(value: Fraction | None) -> str:
    return "" if value is None else number(rounded(value, 1))


def _fluence_text(pairs: Sequence[tuple[Fraction | None, Fraction | None]]) -> str:
    """``6.0/6.0``, or the lowest and the highest of the spots; blank when one is unknown."""
    given = [g for g, _ in pairs if g is not None]
    planned = [p for _, p in pairs if p is not None]
    if len(given) < len(pairs) or len(planned) < len(pairs):
        return ""
    return f"{_span(given)}/{_span(planned)}"


def _span(values: Sequence[Fraction]) -> str:
    low, high = rounded(min(values), 1), rounded(max(values), 1)
    return number(low) if low == high else f"{number(low)}-{number(high)}"


def _missed(tally: SessionTally) -> list[str]:
    missed = [spot for spot in tally.spots if spot.outcome != "given"]
    if not missed:
        return [_("Every spot had its seconds.")]
    lines = [_("Not given as planned:")]
    # What was never reached is one story, told once; the table above has its places.
    unreached = [spot for spot in missed if spot.outcome == "not_reached"]
    for spot in missed:
        if spot.outcome == "not_reached" and len(unreached) > 1:
            continue
        lines += _item(
            _("{place}: {outcome}{why}, {given} of {planned} s").format(
                place=_place(spot),
                outcome=_(OUTCOME_WORDS[spot.outcome]),
                why=_why(spot.reason),
                given=_seconds(spot.given_ns),
                planned=_seconds(spot.planned_ns),
            )
        )
    if len(unreached) > 1:
        lines += _item(
            _("{count} spots not reached{why}, from {first} to {last}").format(
                count=len(unreached),
                why=_why(unreached[0].reason),
                first=_place(unreached[0]),
                last=_place(unreached[-1]),
            )
        )
    return lines


def _left(tally: SessionTally) -> list[str]:
    if not tally.left_for_next:
        return []
    places = Counter(spot.site.face for spot in tally.left_for_next)
    lines = [_("Left for next time from the start, not missed:")]
    for (key, side, aspect), count in places.items():
        where = ", ".join(filter(None, (owner_words(key), _side(side), aspect)))
        text = ngettext("{place}: {count} spot", "{place}: {count} spots", count)
        lines += _item(text.format(place=where, count=count))
    return lines


def owner_words(key: str) -> str:
    """A region as owners call it; its key where a newer program knows more regions."""
    try:
        return told(key).owner_words
    except KeyError:
        return key


def _place(spot: SpotTally) -> str:
    parts = [owner_words(spot.region), _side(spot.side), *([spot.aspect] if spot.aspect else [])]
    parts.append(_("spot {number} of {of}").format(number=spot.number, of=spot.of))
    return ", ".join(parts)


def _side(side: str) -> str:
    # As it stands where a newer program knows another.
    return _(side) if side in SIDES else side


def _why(reason: str) -> str:
    return f" ({_(REASON_WORDS.get(reason, reason))})" if reason else ""


def _columns() -> str:
    spots, seconds, joules, fluence = _("spots"), _("seconds"), _("J"), _("J/cm2 a spot")
    return f"{'':9}{spots:>6}{seconds:>13}{joules:>16}{fluence:>16}"


def _seconds(duration_ns: int) -> str:
    exact = s_from_ns(duration_ns)
    return number(rounded(exact, 0 if exact.denominator == 1 else 1))


def _joules(energy: int) -> str:
    return number(rounded(j_from_fj(energy), 2))


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, subsequent_indent="  ") or [""]


def _item(text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent="  ", subsequent_indent="    ")
