"""Checks of what only plans of format 2 can say. Each reports where, what and what is allowed."""

import datetime
from collections.abc import Collection, Mapping
from typing import Any

from coach.plan.model import About, Patient, Reason, Recheck
from coach.plan.problems import Report, show


def check_starts(report: Report, laser: Any) -> None:
    """How the laser starts must be said: whether it shines from spot to spot depends on it."""
    if isinstance(laser, Mapping) and "starts" not in laser:
        report.add(
            ("laser", "starts"),
            "nothing",
            'this field must be there: "stays on" or "button at each spot"',
        )


def check_second_check(report: Report, about: About, today: datetime.date) -> None:
    """Who has read the plan besides the prescriber, and when."""
    if bool(about.checked_by) != (about.checked_on is not None):
        missing = "checked_on" if about.checked_by else "checked_by"
        report.add(
            ("plan", missing), "nothing", "both checked_by and checked_on, or neither of them"
        )
    if about.checked_by and about.checked_by.casefold() == about.prescriber.casefold():
        report.add(
            ("plan", "checked_by"), show(about.checked_by), "another person than the prescriber"
        )
    if about.checked_on is not None and not about.prescribed_on <= about.checked_on <= today:
        report.add(
            ("plan", "checked_on"),
            show(about.checked_on),
            f"a day from {about.prescribed_on} (prescribed_on) to today ({today})",
        )
    if about.id in about.beside:
        report.add(("plan", "beside"), show(about.beside), "ids of other plans than this one")
    elif len(set(about.beside)) < len(about.beside):
        report.add(("plan", "beside"), show(about.beside), "each only once")


def check_people(
    report: Report,
    patient: Patient,
    reason: Reason,
    reported: Collection[str],
    today: datetime.date,
) -> None:
    """Dates that lie ahead, and who was there when something was agreed."""
    dates = (
        ("patient", "born", patient.born),
        ("reason", "consent_on", reason.consent_on),
        ("reason", "instructions_on", reason.instructions_on),
    )
    for table, field, date in dates:
        if field not in reported and date is not None and date > today:
            report.add((table, field), show(date), f"today ({today}) or earlier")
    for what in ("consent", "instructions"):
        if f"{what}_by" in reported or f"{what}_on" in reported:
            continue
        if getattr(reason, f"{what}_by") and getattr(reason, f"{what}_on") is None:
            report.add(("reason", f"{what}_on"), "nothing", f"the day, beside {what}_by")


def check_recheck(report: Report, recheck: Recheck, about: About) -> None:
    """A visit within the plan, and each sign once."""
    if recheck.on is not None and recheck.on < about.prescribed_on:
        report.add(
            ("recheck", "on"),
            show(recheck.on),
            f"{about.prescribed_on} (prescribed_on) or later",
        )
    for number, rule in enumerate(recheck.stop):
        if any((r.sign, r.then) == (rule.sign, rule.then) for r in recheck.stop[:number]):
            report.add(("recheck", "stop", number, "sign"), show(rule.sign), "each sign only once")
