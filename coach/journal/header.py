"""The first line of a journal: plan, dog, laser and spots, enough to tally it alone. Pure."""

from collections.abc import Mapping
from typing import Any

from coach.plan.files import PlanFile
from coach.plan.laser import Source
from coach.plan.model import Plan
from coach.plan.spots import Spot, added
from coach.session.machine import Options


def header_of(
    plan_file: PlanFile,
    spots: tuple[Spot, ...],
    options: Options,
    *,
    version: str,
    rehearsal: bool,
    left_for_next: tuple[Spot, ...] = (),
) -> dict[str, object]:
    """What the first line of a journal says, enough to tally it without the plan file.

    ``left_for_next`` are the spots that a short session leaves out from the start.
    """
    plan = plan_file.plan
    laser = plan.laser
    return {
        "program": version,
        "plan": {
            "id": plan.about.id,
            "revision": plan.about.revision,
            "digest": plan_file.digest,
            "prescriber": plan.about.prescriber,
        },
        **_phase(plan),
        "dog": {"name": plan.dog.name, "weight_kg": str(plan.dog.weight_kg)},
        "rehearsal": rehearsal,
        "laser": {
            "label": laser.label,
            "laser_class": laser.laser_class,
            "wavelength_nm": [str(source.wavelength_nm) for source in laser.sources],
            "mean_power_uw": laser.power_uw,
            "beam_area_um2": laser.beam_area_um2,
            "emitters": [
                {
                    "wavelength_nm": str(source.wavelength_nm),
                    "stated_power_uw": source.stated_power_uw,
                    **_pulses(source),
                }
                for source in laser.sources
            ],
            "output_check": None
            if laser.head.checked is None
            else {
                "measured_power_uw": laser.head.checked.power_uw,
                "on": laser.head.checked.on.isoformat(),
            },
        },
        "spots": [
            {
                "index": spot.index,
                "region": spot.region,
                "side": spot.side,
                "aspect": spot.aspect,
                "number": spot.number,
                "of": spot.of,
                "hold_ns": spot.hold_ns,
                "move_ns": spot.move_ns,
                "settle": spot.settle,
                "note": spot.note,
                "position": spot.position,
                "turn_ns": spot.turn_ns,
                **added(spot),
            }
            for spot in spots
        ],
        "left_for_next": [
            {
                "region": spot.region,
                "side": spot.side,
                "aspect": spot.aspect,
                "number": spot.number,
                "of": spot.of,
                "hold_ns": spot.hold_ns,
            }
            for spot in left_for_next
        ],
        "options": {
            "advance": options.advance,
            "laser_button": options.laser_button,
            "repeats_allowed": options.repeats_allowed,
            "owner_sits": options.owner_sits,
        },
    }


def _phase(plan: Plan) -> dict[str, object]:
    """The phase of the course that the session is of, counted from 1; nothing without one."""
    if plan.phase is None:
        return {}
    return {"phase": {"number": plan.phase + 1, "name": plan.course[plan.phase].name}}


def _pulses(source: Source) -> dict[str, str]:
    """How a source pulses, as the plan states it; nothing for one that does not."""
    pulsed = source.pulsed
    if pulsed is None:
        return {}
    stated = {
        "peak_power_mw": pulsed.peak_power_mw,
        "duty_cycle": pulsed.duty_cycle,
        "pulse_width_us": pulsed.pulse_width_us,
        "frequency_hz": pulsed.frequency_hz,
    }
    return {name: str(value) for name, value in stated.items() if value is not None}


# Nanoseconds of 292 years, and more light than any laser gives: beyond it nothing can be added up.
LARGEST = (1 << 63) - 1
MOST_SPOTS = 10_000
_TEXTS = {"plan": ("id", "digest", "prescriber"), "dog": ("name",)}
_SPOT_NUMBERS = ("index", "number", "of", "hold_ns")


def check_header(data: Mapping[str, Any]) -> None:
    """Raise ValueError where the first line of a journal holds values that no session writes."""
    for table, names in _TEXTS.items():
        for name in names:
            _of(str, data[table][name], f"{table}.{name}")
    _whole(data["plan"]["revision"], "plan.revision")
    _of(bool, data["rehearsal"], "rehearsal")
    _of(str, data["program"], "program")
    _whole(data["laser"]["mean_power_uw"], "laser.mean_power_uw")
    if data["laser"]["beam_area_um2"] is not None:
        _whole(data["laser"]["beam_area_um2"], "laser.beam_area_um2", least=1)
    spots = data["spots"]
    if not isinstance(spots, list) or len(spots) > MOST_SPOTS:
        raise ValueError(f"spots: found no list of at most {MOST_SPOTS}")
    for place, spot in enumerate(spots):
        _check_spot(spot, f"spots[{place + 1}]")
        if spot["index"] != place:
            raise ValueError(f"spots[{place + 1}].index: found {spot['index']}; {place} was due")
    for place, spot in enumerate(data.get("left_for_next", ())):
        _check_spot(
            {"index": 0, "note": "", "settle": False, **spot}, f"left_for_next[{place + 1}]"
        )


def _check_spot(spot: Mapping[str, Any], place: str) -> None:
    for name in ("region", "side", "note"):
        _of(str, spot[name], f"{place}.{name}")
    if spot["aspect"] is not None:
        _of(str, spot["aspect"], f"{place}.aspect")
    if spot.get("position") is not None:
        _of(str, spot["position"], f"{place}.position")
    _of(bool, spot["settle"], f"{place}.settle")
    for name in ("treated_area_um2", "pass_ns", "distance_mm", "touch_ns"):
        if spot.get(name) is not None:
            _whole(spot[name], f"{place}.{name}", least=1)
    for name in _SPOT_NUMBERS:
        _whole(spot[name], f"{place}.{name}")


def _of(kind: type, value: object, place: str) -> None:
    if type(value) is not kind:
        raise ValueError(f"{place}: found {str(value)[:40]!r}; allowed: {kind.__name__}")


def _whole(value: object, place: str, *, least: int = 0) -> None:
    if type(value) is not int or not least <= value <= LARGEST:
        raise ValueError(f"{place}: found {str(value)[:40]}; allowed: {least} to {LARGEST}")
