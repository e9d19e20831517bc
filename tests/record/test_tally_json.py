"""What the tally prints as JSON, whole: keys as they are described, values worked out by hand.

Two spots of the invented 500 mW head over 1 cm2; the first has its 10 s, the second is paused and
stopped after 4 of its 20 s.
"""

from typing import Any

from coach.record.tally import tally_of
from coach.reports.session_json import tallies_json
from coach.session import commands as cmd
from coach.units import NS_PER_S
from tests.record.test_tally import session
from tests.worlds import header_for, spots_for

S = NS_PER_S


def told() -> dict[str, Any]:
    header = header_for(spots_for([10, 20]))
    header["left_for_next"] = [
        {"region": "hip", "side": "left", "aspect": None, "number": 1, "of": 2, "hold_ns": 5 * S}
    ]
    lines = session(
        [10, 20], (30, cmd.Pause("dog_moved")), (40, cmd.Stop("hot_skin")), header=header
    )
    lines.add("notice", {"what": "no_sound_device"})
    lines.add("helper", {"name": "Sam"})
    lines.add("overruled", {"texts": ["too soon"], "because": "the vet said so"})
    return tallies_json([tally_of(lines.lines)])


def values(name: str, seconds: int) -> dict[str, Any]:
    """500 mW for so many seconds: half a joule each."""
    half_joules = seconds
    return {
        f"{name}_ns": seconds * 10**9,
        f"{name}_s": f"{seconds}.000000",
        f"{name}_fj": half_joules * 5 * 10**14,
        f"{name}_j": f"{half_joules // 2}.{'5' if half_joules % 2 else '0'}00000",
    }


# What a spot has on which the head rested.
STILL = {
    "technique": "still",
    "treated_area_um2": None,
    "planned_j_cm2_over_area": None,
    "given_j_cm2_over_area": None,
}


def test_a_session() -> None:
    out = told()
    assert (out["schema"], out["coached"], len(out["sessions"])) == (2, True, 1)
    one = out["sessions"][0]
    spots, sides = one.pop("spots"), one.pop("sides")
    opened, ended = one.pop("opened_wall"), one.pop("ended_wall")
    assert opened == "2025-01-01T19:00:00.000+01:00"
    assert opened < ended
    assert one == {
        "plan": {
            "id": "demo",
            "revision": 1,
            "digest": "ab" * 32,
            "prescriber": "Dr. Invented",
        },
        "dog": {"name": "Pip", "weight_kg": "7.5"},
        "program": "0.0.0",
        "laser": {
            "label": "invented laser",
            "wavelength_nm": ["905"],
            "mean_power_uw": 500_000,
            "beam_area_um2": 100_000_000,
        },
        "rehearsal": False,
        "trust": "synchronised",
        "state": "stopped",
        "reason": "hot_skin",
        "cuts": 0,
        "closed": False,
        "repaired": "",
        "overruled": ["too soon", "the vet said so"],
        "notices": ["no_sound_device"],
        "problems": [],
        "total": {"spots": 2, "given": 1, **values("planned", 30), **values("given", 14)},
        # Two ways of 8 s.
        "way_j": "8.000000",
        "left_for_next": [
            {
                "region": "hip",
                "side": "left",
                "aspect": None,
                "number": 1,
                "of": 2,
                "planned_ns": 5 * 10**9,
                "planned_s": "5.000000",
            }
        ],
    }
    assert sides == [
        {
            "region": "lumbar",
            "side": side,
            "spots": 1,
            "given": given,
            **values("planned", planned_s),
            **values("given", given_s),
        }
        for side, given, planned_s, given_s in (("left", 1, 10, 10), ("right", 0, 20, 4))
    ]
    walls = [(spot.pop("started_wall"), spot.pop("ended_wall")) for spot in spots]
    assert all(began is not None and began < over for began, over in walls)
    assert spots == [
        {
            "index": 0,
            "region": "lumbar",
            "side": "left",
            "aspect": None,
            "number": 1,
            "of": 1,
            "settle": False,
            "note": "",
            "outcome": "given",
            "reason": "",
            "repeats": 0,
            "pauses": [],
            **values("planned", 10),
            **values("given", 10),
            # 5 J over 1 cm2.
            "planned_j_cm2": "5.000000",
            "given_j_cm2": "5.000000",
            **STILL,
        },
        {
            "index": 1,
            "region": "lumbar",
            "side": "right",
            "aspect": None,
            "number": 1,
            "of": 1,
            "settle": False,
            "note": "",
            "outcome": "cut_short",
            "reason": "hot_skin",
            "repeats": 0,
            "pauses": ["dog_moved"],
            **values("planned", 20),
            **values("given", 4),
            "planned_j_cm2": "10.000000",
            "given_j_cm2": "2.000000",
            **STILL,
        },
    ]


def test_the_course() -> None:
    assert told()["course"] == [
        {
            "dog": "Pip",
            "sessions": 1,
            "spots": [
                {
                    "region": "lumbar",
                    "side": side,
                    "aspect": None,
                    "number": 1,
                    "sessions": 1,
                    **values("planned", planned_s),
                    **values("given", given_s),
                    "planned_j_cm2": planned_j_cm2,
                    "given_j_cm2": given_j_cm2,
                }
                for side, planned_s, given_s, planned_j_cm2, given_j_cm2 in (
                    ("left", 10, 10, "5.000000", "5.000000"),
                    ("right", 20, 4, "10.000000", "2.000000"),
                )
            ],
        }
    ]


def test_an_unknown_beam_area_is_null() -> None:
    out = tallies_json([tally_of(session([10], beam_area_um2=None).lines)])
    assert out["sessions"][0]["spots"][0]["given_j_cm2"] is None
    assert out["course"][0]["spots"][0]["given_j_cm2"] is None
