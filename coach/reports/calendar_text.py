"""A course in words and as months, for the owner. Pure; only signs and numbers, no colours."""

import calendar as months
import datetime
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from coach.language import N_, _, ngettext
from coach.plan.calendar import Calendar
from coach.plan.due_days import Due, State
from coach.record.adherence import Adherence
from coach.reports.format import percent

# Shapes that differ without colour; the second is for screens that have only ASCII.
SIGNS: Mapping[str, tuple[str, str]] = {
    "given": ("✓", "*"),
    "extra": ("+", "+"),
    "due": ("●", "#"),
    "late": ("●", "#"),
    "to_come": ("○", "o"),
    "missed": ("–", "-"),
    "ask": ("?", "?"),
    "rest": ("r", "r"),
    "": (" ", " "),
}
LEGEND: Mapping[str, str] = {
    "given": N_("given"),
    "due": N_("due today"),
    "to_come": N_("to come"),
    "missed": N_("missed, left out"),
    "ask": N_("missed, ask"),
    "extra": N_("given, not asked for"),
    "rest": N_("rest day"),
}
STATE_WORDS: Mapping[State, str] = {
    "given": N_("given"),
    "due": N_("due today"),
    "late": N_("its day is over, it may still be given today"),
    "to_come": N_("to come"),
    "missed": N_("missed, left out"),
    "ask": N_("missed: ask your prescriber"),
}
WEEKDAYS = (N_("Mo"), N_("Tu"), N_("We"), N_("Th"), N_("Fr"), N_("Sa"), N_("Su"))
MONTHS = (
    N_("January"), N_("February"), N_("March"), N_("April"), N_("May"), N_("June"),
    N_("July"), N_("August"), N_("September"), N_("October"), N_("November"), N_("December"),
)  # fmt: skip
CELL = 4
MONTH_COLUMNS = 7 * CELL
MONTH_GAP = 3
MONTH_ROWS = 8
# A day with several states shows the one that asks for most.
_FIRST = ("due", "late", "ask", "to_come", "given", "extra", "missed", "rest")

Month = tuple[int, int]


def months_of(calendar: Calendar) -> list[Month]:
    """Year and month of every month of the course, today's too."""
    days = [due.day for due in calendar.dues] + [s.day for s in calendar.extra if s.day]
    days += [s.day for due in calendar.dues if (s := due.given) and s.day]
    days += [calendar.today]
    first, last = min(days), max(days)
    count = (last.year - first.year) * 12 + last.month - first.month + 1
    start = first.year * 12 + first.month - 1
    return [((start + n) // 12, (start + n) % 12 + 1) for n in range(count)]


def day_states(calendar: Calendar) -> dict[datetime.date, str]:
    """What each day shows, as a key of :data:`SIGNS`."""
    found: dict[datetime.date, set[str]] = {}
    for day in calendar.rest:
        found.setdefault(day, set()).add("rest")
    for due in calendar.dues:
        shown = due.day if due.given is None else due.given.day
        if shown is not None:
            found.setdefault(shown, set()).add(due.state)
    for session in calendar.extra:
        if session.day is not None:
            found.setdefault(session.day, set()).add("extra")
    return {day: min(states, key=_FIRST.index) for day, states in found.items()}


def month_rows(
    calendar: Calendar, month: Month, states: Mapping[datetime.date, str], *, ascii_only: bool
) -> list[str]:
    """One month as ``MONTH_ROWS`` rows of ``MONTH_COLUMNS``; today stands in brackets."""
    year, number = month
    title = _("{month} {year}").format(month=_(MONTHS[number - 1]), year=year)
    rows = [title.center(MONTH_COLUMNS)]
    rows.append("".join(f" {_(name)[:2]:<3}" for name in WEEKDAYS))
    for week in months.Calendar().monthdatescalendar(year, number):
        cells = []
        for day in week:
            if day.month != number:
                cells.append(" " * CELL)
                continue
            sign = SIGNS[states.get(day, "")][ascii_only]
            left = "[" if day == calendar.today else " "
            # The bracket closes where the sign is followed by nothing else.
            cells.append(f"{left}{day.day:>2}{sign}")
        rows.append("".join(cells))
    rows += [""] * (MONTH_ROWS - len(rows))
    return [row.ljust(MONTH_COLUMNS) for row in rows]


def month_pages(calendar: Calendar, *, width: int, ascii_only: bool) -> list[list[str]]:
    """Every month of the course, as many side by side as ``width`` has room for."""
    states = day_states(calendar)
    grids = [month_rows(calendar, m, states, ascii_only=ascii_only) for m in months_of(calendar)]
    abreast = max(1, (width + MONTH_GAP) // (MONTH_COLUMNS + MONTH_GAP))
    gap = " " * MONTH_GAP
    return [
        [gap.join(rows).rstrip() for rows in zip(*grids[at : at + abreast], strict=True)]
        for at in range(0, len(grids), abreast)
    ]


def legend_text(calendar: Calendar, *, ascii_only: bool) -> str:
    """What the signs of this calendar mean, today's bracket too."""
    shown = {"due" if state == "late" else state for state in day_states(calendar).values()}
    parts = [f"{SIGNS[key][ascii_only]} {_(word)}" for key, word in LEGEND.items() if key in shown]
    return ", ".join(["[ " + _("today"), *parts])


def headline(calendar: Calendar) -> str:
    """What is due, in one sentence."""
    due = calendar.next
    if not calendar.dues:
        return _("The plan does not say how often. Ask your prescriber.")
    if due is None:
        if calendar.count("ask"):
            return _("The course has come to its end, with sessions missed. Ask your prescriber.")
        return _("The course has come to its end. Your prescriber says how to go on.")
    values = {"number": due.number, "of": len(calendar.dues), "day": day_text(due.day)}
    if due.day > calendar.today:
        return _("Next: session {number} of {of}, on {day}.").format(**values)
    if calendar.assumed:
        return _("The first session starts the course. It has {of} sessions.").format(**values)
    if due.state == "late":
        return _("Session {number} of {of} was due on {planned}. It may be given today.").format(
            planned=day_text(due.planned_on), **values
        )
    return _("Today: session {number} of {of}.").format(**values)


def unsure_text(today: datetime.date) -> str:
    """What to say of a calendar on a computer whose clock nobody can trust."""
    return _("The clock of this computer cannot be trusted; it says {day}.").format(
        day=day_text(today)
    )


def early_text(calendar: Calendar) -> str:
    """What to say to who starts a session before its day; "" where there is nothing to say."""
    due = calendar.next
    if due is None or due.day <= calendar.today or calendar.assumed:
        return ""
    return _("Not due yet: the next session is due on {day}.").format(day=day_text(due.day))


def day_text(day: datetime.date) -> str:
    """``We 2026-12-02``."""
    return f"{_(WEEKDAYS[day.weekday()])} {day.isoformat()}"


def due_lines(calendar: Calendar) -> Iterator[str]:
    """One line a session: number, day, state."""
    wide = len(str(len(calendar.dues)))
    for due in calendar.dues:
        yield f"{due.number:>{wide}}  {day_text(due.day)}{_hour(due)}  {due.phase}: {_told(due)}"
    for session in calendar.extra:
        day = _("on a day that is not known") if session.day is None else day_text(session.day)
        yield f"{'+':>{wide}}  {day}  " + _(LEGEND["extra"])


def _hour(due: Due) -> str:
    return "" if due.at is None else f" {due.at:%H:%M}"


def _told(due: Due) -> str:
    session = due.given
    if session is None:
        if due.state in ("due", "to_come") and due.day != due.planned_on:
            return _("{state}, planned for {day}").format(
                state=_(STATE_WORDS[due.state]), day=day_text(due.planned_on)
            )
        return _(STATE_WORDS[due.state])
    if session.day is None:
        return _("given, on a day that the clock could not tell")
    if session.day == due.day:
        return _("given")
    return _("given on {day}").format(day=day_text(session.day))


def remark_lines(calendar: Calendar) -> Iterator[str]:
    """What else the owner should know of this calendar."""
    if calendar.assumed and calendar.dues:
        yield _("Nothing was given yet: the days are those of a course that starts today.")
    if calendar.count("ask"):
        yield ngettext(
            "{n} session was missed. Ask your prescriber whether to make it up.",
            "{n} sessions were missed. Ask your prescriber whether to make them up.",
            calendar.count("ask"),
        ).format(n=calendar.count("ask"))
    after = sum(
        due.day > calendar.valid_until and due.state in ("due", "late", "to_come")
        for due in calendar.dues
    )
    if after:
        yield ngettext(
            "{n} session comes after the last day of the plan, {day}. Ask your prescriber.",
            "{n} sessions come after the last day of the plan, {day}. Ask your prescriber.",
            after,
        ).format(n=after, day=calendar.valid_until)
    if calendar.not_before is not None and calendar.next is not None:
        soonest = calendar.not_before
        if soonest.date() >= calendar.today:
            yield _("The plan lets the next session begin on {day} at {time}.").format(
                day=day_text(soonest.date()), time=f"{soonest:%H:%M}"
            )
    if calendar.before:
        yield ngettext(
            "{n} session from before the course began is not counted.",
            "{n} sessions from before the course began are not counted.",
            len(calendar.before),
        ).format(n=len(calendar.before))
    if calendar.others:
        yield ngettext(
            "{n} session of another plan is not counted, but its distance is kept.",
            "{n} sessions of other plans are not counted, but their distance is kept.",
            calendar.others,
        ).format(n=calendar.others)
    if calendar.elsewhere:
        yield ngettext(
            "{n} session was logged in another time zone: its day is the day there.",
            "{n} sessions were logged in another time zone: their day is the day there.",
            len(calendar.elsewhere),
        ).format(n=len(calendar.elsewhere))
    older = {
        due.given.plan_revision
        for due in calendar.dues
        if due.given is not None and due.given.plan_revision != calendar.plan_revision
    }
    if older:
        yield _(
            "Some sessions were given under revision {older} of the plan; now it is {now}."
        ).format(older=", ".join(map(str, sorted(older))), now=calendar.plan_revision)


def begun_text(figures: Adherence) -> str:
    """``26, all complete``; ``9 (8 complete, 1 in part: 26 %)``."""
    if not figures.begun:
        return _("none")
    if figures.begun == figures.complete:
        return _("{begun}, all complete").format(begun=figures.begun)
    part = figures.begun - figures.complete
    if not figures.in_part:
        return _("{begun} ({complete} complete, {part} in part)").format(
            begun=figures.begun, complete=figures.complete, part=part
        )
    return _("{begun} ({complete} complete, {part} in part: {shares})").format(
        begun=figures.begun,
        complete=figures.complete,
        part=part,
        shares=shares_text(figures.in_part),
    )


def shares_text(shares: Sequence[Fraction]) -> str:
    """The least and the most of ``shares``, rounded down."""
    low, high = (percent(share) for share in (shares[0], shares[-1]))
    return low if low == high else _("{low} to {high}").format(low=low, high=high)


def odds_lines(figures: Adherence) -> Sequence[str]:
    """What differs from the plan: sessions beyond the course, beyond what was due, behind it."""
    found = (
        (
            figures.beyond,
            ngettext(
                "{n} session beyond the course.", "{n} sessions beyond the course.", figures.beyond
            ),
        ),
        (
            figures.extra,
            ngettext("{n} more than was due.", "{n} more than were due.", figures.extra),
        ),
        (
            figures.behind,
            ngettext("{n} fewer than was due.", "{n} fewer than were due.", figures.behind),
        ),
        (
            figures.too_little,
            ngettext(
                "{n} had too small a part to count for a day.",
                "{n} had too small a part to count for a day.",
                figures.too_little,
            ),
        ),
    )
    return [text.format(n=count) for count, text in found if count]


def adherence_lines(figures: Adherence) -> Sequence[str]:
    """The figures, one a line."""
    lines = [
        _("Due so far: {due} of {whole}. Begun: {begun}.").format(
            due=figures.due, whole=figures.whole_course, begun=begun_text(figures)
        ),
        *odds_lines(figures),
    ]
    if not figures.begun:
        return lines
    values = {"on_the_day": figures.on_the_day, "in_window": figures.in_window}
    if figures.in_window is None:
        lines.append(_("On the day: {on_the_day}.").format(**values))
    else:
        lines.append(
            _("On the day: {on_the_day}. In time, by the plan: {in_window}.").format(**values)
        )
    if figures.longest_gap_days is not None:
        lines.append(
            ngettext(
                "Longest gap: {n} day.", "Longest gap: {n} days.", figures.longest_gap_days
            ).format(n=figures.longest_gap_days)
        )
    if figures.day_unknown:
        lines.append(_("Day not known: {n}.").format(n=figures.day_unknown))
    return lines
