"""Whole plans as prescribers would write them, from the file to the handover.

The plans in ``tests/plan/prescribed`` are invented: dogs, people, clinics and lasers. What they
must give is worked out by hand beside each; seconds follow from J or J/cm2 over the mean power, in
whole tenths.
"""

from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import pytest

from coach import __version__
from coach.handover.build_info import Made
from coach.handover.folder import write_handover
from coach.handover.recheck import recheck
from coach.journal.journal import read_journal
from coach.journal.signing import DeviceKey
from coach.plan.files import load_plan
from coach.plan.phases import phase_plans
from coach.plan.read import read_plan
from coach.plan.spots import spots_of
from coach.plan.write import write_plan
from coach.record.tally import tally_of
from coach.session.machine import Phase
from coach.units import NS_PER_S, j_from_fj
from tests.e2e.virtual import TODAY, coach_plainly
from tests.screens.thin import app_for, settled, shown, thin_session

FOLDER = Path(__file__).parents[1] / "plan" / "prescribed"
KEY = DeviceKey(bytes(32))
SIZES = [(60, 20), (80, 24), (120, 40)]


@dataclass(frozen=True, kw_only=True)
class Session:
    """A session of each phase: spots, seconds of hold and J."""

    phases: tuple[tuple[int, str, str], ...]
    swept: int = 0


PLANS = {
    # 200 mW. Neck 2 x 20 s; junction 3 x 4 J (20 s); the tape gives lumbar 0.42 x 42 cm =
    # 17.6 cm, 6 spots of 3 cm, 12 x 4 J. In the taper neck and junction at 2 J (10 s).
    "long_back_taper": Session(phases=((17, "340", "68"), (5, "70", "14"))),
    # 10 W. Hips 2 x 125 cm2 x 8 J/cm2 = 1000 J, 100 s; elbow 2 x 400 J, 40 s.
    "big_swept": Session(phases=((4, "280", "2800"),), swept=4),
    # 500 mW x 0.1 = 50 mW. Stifles 4 x 0.5 J, 10 s; back 4 x 10 s.
    "old_small": Session(phases=((8, "80", "4"),)),
    # Stated 100 + 200 + 100 mW, measured 380: 2 x 4 J/cm2 x 5 cm2 = 20 J, 52.6 s.
    "multi_diode": Session(phases=((2, "105.2", "39.976"),)),
    # 450 mW. Wound 20 cm2 x 6 = 120 J, 266.7 s, later x 3 = 60 J, 133.3 s; scar 2 x 3 J, 6.7 s;
    # back 6 x 4 J, 8.9 s.
    "wound_and_back": Session(phases=((9, "333.5", "150.075"), (9, "200.1", "90.045")), swept=1),
}


def test_every_plan_of_the_folder_is_here() -> None:
    assert sorted(path.stem for path in FOLDER.glob("*.toml")) == sorted(PLANS)


@pytest.mark.parametrize("name", PLANS)
def test_what_a_plan_gives(name: str) -> None:
    plan = load_plan(FOLDER / f"{name}.toml", today=TODAY).plan
    found = []
    for inner in phase_plans(plan):
        spots = spots_of(inner)
        held_ns = sum(spot.hold_ns for spot in spots)
        given_j = Fraction(held_ns * inner.laser.power_uw, 10**15)
        found.append((len(spots), Fraction(held_ns, NS_PER_S), given_j))
        assert sum(spot.swept for spot in spots) == PLANS[name].swept
    wanted = [(count, Fraction(s), Fraction(j)) for count, s, j in PLANS[name].phases]
    assert [row[0] for row in found] == [row[0] for row in wanted]
    for (_, held_s, given_j), (_, wanted_s, wanted_j) in zip(found, wanted, strict=True):
        assert float(held_s) == pytest.approx(float(wanted_s), abs=0.05)
        assert float(given_j) == pytest.approx(float(wanted_j), rel=0.001)
    again = read_plan(write_plan(plan), file="again.toml", today=TODAY)
    assert again == plan


@pytest.mark.parametrize("name", PLANS)
def test_coached_tallied_handed_over_and_recomputed(name: str, tmp_path: Path) -> None:
    path = FOLDER / f"{name}.toml"
    dog = tmp_path / "dog"
    dog.mkdir()
    (dog / "plan.toml").write_bytes(path.read_bytes())
    plan = load_plan(path, today=TODAY).plan
    spots = spots_of(plan)
    waits = [(60.0 * (number + 1), "") for number in range(2 * len(spots) + 2)]
    words = [(1.0, ""), *(waits if plan.rules.advance == "wait" else [])]
    said, journal = coach_plainly(dog / "plan.toml", dog / "journals", words, signer=KEY)
    assert "FINISHED" in said
    if PLANS[name].swept:
        assert "Keep moving, slowly, flat, overlapping." in said or "Keep moving." in said
        assert "Lift the head." in said
    tally = tally_of(read_journal(journal).lines)
    given_j = sum(j_from_fj(tally.row(spot).given_fj) for spot in tally.spots)
    assert float(given_j) == pytest.approx(float(PLANS[name].phases[0][2]), rel=0.001)
    assert all(spot.given_ns == spot.planned_ns for spot in tally.spots)
    for spot in tally.spots:
        moved = spot.treated_area_um2 is not None
        assert (tally.fluence_j_cm2(spot, spot.given_ns) is None) == moved
        assert (tally.area_fluence_j_cm2(spot, spot.given_ns) is not None) == moved
    made = Made(at="2026-11-25T20:00:00+00:00", program=__version__, paper="A4")
    done = write_handover(
        dog, tmp_path / "out", made=made, signer=KEY, with_names=True, zipped=False
    )
    result = recheck(done.path)
    assert result.findings == ()


@pytest.mark.parametrize("name", PLANS)
@pytest.mark.parametrize("size", SIZES, ids=["60x20", "80x24", "120x40"])
async def test_on_the_screen(name: str, size: tuple[int, int]) -> None:
    session = thin_session(FOLDER / f"{name}.toml")
    app = app_for(session)
    session.time.pass_s(-1)
    waits = session.options.advance == "wait"
    async with app.run_test(size=size) as pilot:
        session.time.pass_s(1)
        await pilot.press("space")
        await settled(pilot)
        for spot in session.spots:
            if waits:
                session.time.pass_s(15)
                await pilot.press("space")
            else:
                while session.view().phase is Phase.MOVING:
                    session.time.pass_s(1)
                    session.tick()
            app.beat()
            await settled(pilot)
            screen = shown(app)
            assert session.view().spot == spot
            assert ("KEEP MOVING" in screen) == spot.swept
            while session.view().phase is Phase.HOLDING:
                session.time.pass_s(1)
                session.tick()
        assert session.view().phase is Phase.FINISHED
