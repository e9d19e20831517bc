"""What has to be shown before a plan is taken: a good signature, or the plan's check number. Pure.

Grave things need one of both: what cannot wait at ``coach check``, a class that does not go with
the power, a dose or a power that changes tenfold. Once a prescriber's key is known here, so does
every plan without a known signature.
"""

import datetime
from collections.abc import Iterator
from fractions import Fraction

from coach.body import told
from coach.handover.take_plan import SignedBy
from coach.language import N_, _
from coach.plan.formatting import plain
from coach.plan.model import Plan, RegionOrder
from coach.plan.phase_findings import all_findings
from coach.units import mw_from_uw, rounded, s_from_ns

TENFOLD = 10
ASK_NUMBER = N_("Phone your vet and ask for the check number of this plan. It has 12 digits:")
WRONG_NUMBER = N_("That is not the check number of this plan. Nothing was changed.")
NO_SECOND_CHECK = N_("This plan asks for a second check, and nobody has checked it. Ask your vet.")
# Fields that a class against the power is remarked on.
_CLASS = frozenset({"laser.laser_class", "laser.mean_power_mw"})


def grave(new: Plan, before: Plan | None, *, today: datetime.date) -> list[str]:
    """Sentences about what must not be taken on trust; empty when there is nothing."""
    found = [
        finding.line
        for finding in all_findings(new, today=today)
        if finding.rank == 0 or finding.field in _CLASS
    ]
    return found if before is None else [*found, *_tenfold(new, before)]


def needs_number(new: Plan, signed: SignedBy, *, keys_known: bool, reasons: list[str]) -> list[str]:
    """Why the check number is needed, in the owner's words; empty when it is not."""
    if signed.state == "known":
        return []
    if reasons:
        return [_("Make sure that this is right:"), *(f"- {reason}" for reason in reasons)]
    if keys_known:
        return [_("Plans came with a known signature so far. This one does not.")]
    return []


def second_check_missing(new: Plan, *, signatures: int) -> bool:
    """Whether the plan asks for a second check and has none, neither signed nor said."""
    return new.about.needs_second_check and signatures < 2 and not new.about.checked_by


def _tenfold(new: Plan, before: Plan) -> Iterator[str]:
    was_uw, now_uw = before.laser.power_uw, new.laser.power_uw
    if _far(Fraction(was_uw), Fraction(now_uw)):
        yield _("The power of the laser goes from {was} mW to {now} mW.").format(
            was=_figure(mw_from_uw(was_uw)), now=_figure(mw_from_uw(now_uw))
        )
    orders = {_key(order): order for order in before.regions}
    for order in new.regions:
        old = orders.get(_key(order))
        if old is None:
            continue
        place = told(order.region).owner_words
        was_ns, now_ns = before.hold_ns(old), new.hold_ns(order)
        was_j, now_j = Fraction(was_ns * was_uw, 10**15), Fraction(now_ns * now_uw, 10**15)
        if _far(was_j, now_j):
            yield _("{place}: {was} J on each spot become {now} J.").format(
                place=place, was=_figure(was_j), now=_figure(now_j)
            )
        elif _far(Fraction(was_ns), Fraction(now_ns)):
            yield _("{place}: {was} s on each spot become {now} s.").format(
                place=place, was=_figure(s_from_ns(was_ns)), now=_figure(s_from_ns(now_ns))
            )


def _key(order: RegionOrder) -> tuple[str, str]:
    return order.region, order.technique


def _far(was: Fraction, now: Fraction) -> bool:
    return was > 0 and not Fraction(1, TENFOLD) < now / was < TENFOLD


def _figure(value: Fraction) -> str:
    return plain(rounded(value, 1))
