"""What a prescriber is asked for a plan: one question a field. Pure data and readers of answers.

Light to load: the command line makes its options from it. Longer than other files: it is one list.
"""

import datetime
import re
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any

from coach.plan.problems import show

LARGEST_DIGITS = 9
YES = frozenset({"yes", "y", "true"})
NO = frozenset({"no", "n", "false"})


class Refused(ValueError):  # noqa: N818  (an answer to the prescriber, not a failure)
    """An answer that cannot be used, with every reason."""

    def __init__(self, *reasons: str) -> None:
        super().__init__("; ".join(reasons))
        self.reasons = reasons


def refusal(found: str, allowed: str, hint: str = "") -> str:
    """What was found, what is allowed, and what was probably meant."""
    return f"{found} found; allowed: {allowed}{f' ({hint})' if hint else ''}"


def _text(answer: str) -> str:
    return answer


def read_number(answer: str) -> Decimal | int:
    """``9.5`` or ``9``; raises Refused. Whole ones are int, as in a plan file."""
    try:
        number = Decimal(answer)
    except InvalidOperation:
        number = Decimal("NaN")
    if not number.is_finite():
        hint = "a point, not a comma" if re.fullmatch(r"[0-9]+,[0-9]+", answer) else ""
        raise Refused(refusal(show(answer), "a number without a unit", hint))
    # Far larger ones are refused by the plan; to write out all their digits would take for ever.
    whole = number.adjusted() < LARGEST_DIGITS and number == number.to_integral_value()
    return int(number) if whole else number


def read_whole(answer: str) -> int:
    """``4``; raises Refused."""
    if not re.fullmatch(r"-?[0-9]{1,9}", answer):
        raise Refused(refusal(show(answer), "a whole number"))
    return int(answer)


def _yes(answer: str) -> bool:
    if answer.lower() not in YES | NO:
        raise Refused(refusal(show(answer), "yes or no"))
    return answer.lower() in YES


def read_list(answer: str) -> list[str]:
    """``left, right`` as a list."""
    return [word for word in re.split(r"[,\s]+", answer.strip().lower()) if word]


def _date(answer: str) -> datetime.date:
    try:
        return datetime.date.fromisoformat(answer)
    except ValueError:
        raise Refused(refusal(show(answer), "a date such as 2026-12-31")) from None


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One field of a plan to ask for.

    Attributes:
        table: table of the plan; ``laser.pulsed`` is one inside another.
        field: its field.
        flag: option of the command line.
        ask: what it is, for a prompt and for help.
        read: answer to value; raises Refused.
        needed: a plan needs it; others may be left empty.
        otherwise: what then holds.
    """

    table: str
    field: str
    flag: str
    ask: str
    read: Callable[[str], Any] = _text
    needed: bool = True
    otherwise: str = "none"

    @property
    def place(self) -> str:
        """The field as problems name it."""
        return f"{self.table}.{self.field}"


QUESTIONS: tuple[Question, ...] = (
    Question(
        table="plan",
        field="id",
        flag="--id",
        ask="Name of the plan: small letters, digits, hyphens",
    ),
    Question(table="plan", field="prescriber", flag="--prescriber", ask="Prescriber"),
    Question(table="plan", field="clinic", flag="--clinic", ask="Clinic", needed=False),
    Question(
        table="plan",
        field="prescribed_on",
        flag="--prescribed-on",
        ask="Prescribed on (date)",
        read=_date,
    ),
    Question(
        table="plan",
        field="valid_until",
        flag="--valid-until",
        ask="Valid until (date)",
        read=_date,
    ),
    Question(
        table="plan", field="note", flag="--note", ask="Note about the whole plan", needed=False
    ),
    Question(table="dog", field="name", flag="--dog", ask="Name of the dog"),
    Question(
        table="dog", field="weight_kg", flag="--weight-kg", ask="Weight in kg", read=read_number
    ),
    Question(
        table="dog",
        field="neck_cm",
        flag="--neck-cm",
        ask="Neck in cm: bump at the back of the skull to the withers",
        read=read_number,
        needed=False,
    ),
    Question(
        table="dog",
        field="back_cm",
        flag="--back-cm",
        ask="Back in cm: withers to the tail base",
        read=read_number,
        needed=False,
    ),
    Question(
        table="dog",
        field="rib_cm",
        flag="--rib-cm",
        ask="Withers to where the last rib meets the spine, in cm",
        read=read_number,
        needed=False,
    ),
    Question(
        table="dog",
        field="loin_cm",
        flag="--loin-cm",
        ask="From there to the dip between the hip points, in cm",
        read=read_number,
        needed=False,
    ),
    Question(
        table="dog",
        field="measured_on",
        flag="--measured-on",
        ask="Measured on (date)",
        read=_date,
        needed=False,
    ),
    Question(
        table="dog",
        field="growing",
        flag="--growing",
        ask="Still growing: yes, no",
        read=_yes,
        needed=False,
        otherwise="no",
    ),
    Question(table="laser", field="label", flag="--laser-label", ask="The laser, as you call it"),
    Question(
        table="laser",
        field="laser_class",
        flag="--laser-class",
        ask="Class on its label: 1, 1C, 1M, 2, 2M, 3R, 3B, 4",
    ),
    Question(
        table="laser",
        field="wavelength_nm",
        flag="--laser-wavelength-nm",
        ask="Wavelength in nm",
        read=read_number,
    ),
    Question(
        table="laser",
        field="mean_power_mw",
        flag="--laser-mean-power-mw",
        ask="Mean power in mW (empty if you know the peak power of a pulsed laser)",
        read=read_number,
        needed=False,
    ),
    Question(
        table="laser.pulsed",
        field="peak_power_mw",
        flag="--laser-peak-power-mw",
        ask="Peak power in mW",
        read=read_number,
        needed=False,
    ),
    Question(
        table="laser.pulsed",
        field="duty_cycle",
        flag="--laser-duty-cycle",
        ask="Duty cycle, 0 to 1 (empty if you know pulse width and frequency)",
        read=read_number,
        needed=False,
    ),
    Question(
        table="laser.pulsed",
        field="pulse_width_us",
        flag="--laser-pulse-width-us",
        ask="Pulse width in us",
        read=read_number,
        needed=False,
    ),
    Question(
        table="laser.pulsed",
        field="frequency_hz",
        flag="--laser-frequency-hz",
        ask="Frequency in Hz",
        read=read_number,
        needed=False,
    ),
    Question(
        table="laser",
        field="beam_area_cm2",
        flag="--laser-beam-area-cm2",
        ask="Beam area at the skin in cm2",
        read=read_number,
        needed=False,
    ),
    Question(
        table="laser",
        field="head_footprint_cm",
        flag="--laser-head-cm",
        ask="Width of the head on the skin in cm",
        read=read_number,
        needed=False,
    ),
    Question(
        table="laser",
        field="starts",
        flag="--laser-starts",
        ask="How it starts: stays on, button at each spot",
        needed=False,
        otherwise="stays on",
    ),
    Question(
        table="laser.output_check",
        field="measured_mw",
        flag="--laser-measured-mw",
        ask="Output that a meter showed, mean power in mW, if it was checked",
        read=read_number,
        needed=False,
    ),
    Question(
        table="laser.output_check",
        field="on",
        flag="--laser-measured-on",
        ask="Checked on (date)",
        read=_date,
        needed=False,
    ),
    Question(
        table="laser.output_check",
        field="valid_days",
        flag="--laser-check-valid-days",
        ask="Days for which a check holds",
        read=read_whole,
        needed=False,
    ),
    Question(
        table="care",
        field="clearances",
        flag="--clearances",
        ask=(
            "Standing facts that you have looked at and allow, so that the owner is not asked: "
            "implant, epilepsy, blood (a bleeding or clotting disorder), heat_sensitive, "
            "pregnancy, young, thyroid"
        ),
        read=read_list,
        needed=False,
    ),
    Question(
        table="care",
        field="dog_lies",
        flag="--dog-lies",
        ask="Where the dog lies, in your words",
        needed=False,
    ),
    Question(
        table="care",
        field="owner_sits",
        flag="--owner-sits",
        ask="The dog's side at which the owner sits: left, middle, right",
        needed=False,
        otherwise="open",
    ),
    Question(
        table="care",
        field="reminders",
        flag="--reminders",
        ask="How much is said about technique: full, short, few",
        needed=False,
        otherwise="by the sessions done",
    ),
    Question(
        table="session",
        field="order",
        flag="--order",
        ask="Order: one side at a time; across, level by level",
        needed=False,
        otherwise="one side at a time",
    ),
    Question(
        table="session",
        field="advance",
        flag="--advance",
        ask="To the next spot: auto, by itself; wait, for the owner's key",
        needed=False,
        otherwise="auto",
    ),
    Question(
        table="session",
        field="patience_minutes",
        flag="--patience-minutes",
        ask="Minutes that it waits for the key at a spot until it pauses: 1 to 60",
        read=read_whole,
        needed=False,
        otherwise="10",
    ),
    Question(
        table="session",
        field="move_seconds",
        flag="--move-seconds",
        ask="Seconds allowed for a move",
        read=read_number,
        needed=False,
        otherwise="8",
    ),
    Question(
        table="session",
        field="turn_seconds",
        flag="--turn-seconds",
        ask="Seconds allowed for turning the dog",
        read=read_number,
        needed=False,
        otherwise="30",
    ),
    Question(
        table="session",
        field="spacing_cm",
        flag="--spacing-cm",
        ask="From spot to spot in cm, where the tape gives the number of spots",
        read=read_number,
        needed=False,
        otherwise="width of the head",
    ),
    Question(
        table="session",
        field="pinned",
        flag="--pinned",
        ask="Keep the order of the regions as listed: yes, no",
        read=_yes,
        needed=False,
        otherwise="no",
    ),
    Question(
        table="session",
        field="may_be_shortened",
        flag="--may-be-shortened",
        ask="A short evening may leave spots for the next session: yes, no",
        read=_yes,
        needed=False,
        otherwise="yes",
    ),
    Question(
        table="session",
        field="repeats_allowed",
        flag="--repeats",
        ask="How often the owner may give a spot once more: 0 to 3",
        read=read_whole,
    ),
    Question(
        table="limits",
        field="least_hours_between",
        flag="--least-hours-between",
        ask="Hours from one session to the next, at least",
        read=read_number,
        needed=False,
        otherwise="no limit",
    ),
    Question(
        table="limits",
        field="most_a_day",
        flag="--most-a-day",
        ask="Sessions a day, at most",
        read=read_whole,
        needed=False,
        otherwise="no limit",
    ),
    Question(
        table="limits",
        field="most_a_week",
        flag="--most-a-week",
        ask="Sessions in seven days, at most",
        read=read_whole,
        needed=False,
        otherwise="no limit",
    ),
    Question(
        table="limits",
        field="owner_may_overrule",
        flag="--owner-may-overrule",
        ask="The owner may overrule these limits: yes, no",
        read=_yes,
        needed=False,
        otherwise="no",
    ),
)
SECTIONS = ("plan", "dog", "laser", "care", "session", "limits")
