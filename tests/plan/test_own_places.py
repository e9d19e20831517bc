"""Places of the prescriber's own. Dog, people and places are invented.

A dog of 8 kg measures about 49 cm from skull bump to tail base (24.5 cm x cube root of 8, see
coach.body.measures), so that 4.9 cm are a tenth of its length.
"""

import math

import pytest

from coach.body import region, told
from coach.body.drawing import Mark, draw_dog, view_of
from coach.body.outline import along, outline
from coach.body.places import PlaceKey, read_key
from coach.body.regions import is_region, regions
from coach.journal.header import header_of
from coach.plan.spots import spots_in, spots_of
from coach.plan.write import write_plan
from coach.session.coaching_level import tips_for
from coach.session.cues import place_text
from coach.session.machine import Options
from coach.session.place_guidance import own_lines
from tests.plan.test_format_2 import PLAN_2
from tests.plan.test_phases import file_of
from tests.plan.worlds import changed, problems_of, read

PLACES = """
[[places]]
name = "scar on the thigh"
side = "right"
between = ["hip", "stifle"]
landmark = "Feel for the bald line."
care = "Keep off the stitches."

[[places]]
name = "wound"
side = "left"
region = "lumbar"
along_cm = 4.9
across_cm = -4.9

[[regions]]
region = "scar on the thigh"
sides = ["right"]
seconds_each_spot = 30
distance_cm = 2.5
pressure = "none"

[[regions]]
region = "wound"
sides = ["left"]
spots = 2
joules_each_spot = 4
contact = true
pressure = "light"
"""
OWN = changed(("weight_kg = 9.5", "weight_kg = 8"), text=PLAN_2) + PLACES
SCAR, WOUND = "scar on the thigh@hip~stifle", "wound@lumbar:100,-100"


def test_places_are_read_ordered_and_written_by_name() -> None:
    plan = read(OWN)
    assert [order.region for order in plan.regions[2:]] == [SCAR, WOUND]
    assert 'region = "scar on the thigh"' in write_plan(plan)
    assert read(write_plan(plan)) == plan
    spots = spots_of(plan)
    by_region: dict[str, list[str]] = {}
    for spot in spots:
        by_region.setdefault(spot.region, []).append(spot.side)
    # The back comes before the legs, the wound after the region it lies at.
    assert list(by_region) == ["lumbar", WOUND, "hip", SCAR]
    assert by_region[WOUND] == ["left", "left"]
    assert by_region[SCAR] == ["right"]


def test_a_place_is_named_found_and_held_as_the_plan_says() -> None:
    spots = spots_of(read(OWN))
    scar = next(spot for spot in spots if spot.region == SCAR)
    wound = next(spot for spot in spots if spot.region == WOUND)
    assert place_text(scar) == "Right scar on the thigh."
    assert place_text(wound) == "Wound, left, spot one."
    assert own_lines(scar) == (
        "Where: Feel for the bald line.",
        "Care: Keep off the stitches.",
        "Keep the head 2.5 cm off the skin.",
        "Do not press.",
    )
    assert own_lines(wound) == ("Keep the head on the skin.", "Press only lightly.")
    assert told(WOUND).feel == "Look near here: lower back."
    assert region(SCAR).block == "SCAR ON TH"


def test_nothing_is_said_about_technique_where_the_plan_says_it() -> None:
    spots = spots_of(read(OWN))
    tips = dict(tips_for(spots, level="full", sessions_done=0))
    own = [spot.index for spot in spots if spot.region in (SCAR, WOUND)]
    assert not any("skin" in tips.get(index, "") for index in own)
    assert any("skin" in tip for tip in tips.values())


def test_a_log_keeps_all_that_a_place_is() -> None:
    plan = read(OWN)
    spots = spots_of(plan)
    header = header_of(file_of(plan), spots, Options(), version="0", rehearsal=False)
    assert spots_in(header["spots"]) == spots  # type: ignore[arg-type]
    # A spot without anything new is written as it always was.
    lumbar = next(s for s in header["spots"] if s["region"] == "lumbar")  # type: ignore[attr-defined]
    assert "landmark" not in lumbar


def test_where_a_place_is_drawn() -> None:
    """By hand: halfway between hip and stifle; a tenth of the dog further back than the lumbar
    middle, a tenth lower."""
    dog = outline()
    hip = along(dog.paths["hip", "side", "right", "lateral"].path, 0.5)
    stifle = along(dog.paths["stifle", "side", "right", "lateral"].path, 0.5)
    (x, y), _ = dog.path(SCAR, "side", "right", None).path
    assert (x, y) == pytest.approx(((hip[0] + stifle[0]) / 2, (hip[1] + stifle[1]) / 2))
    lumbar = along(dog.paths["lumbar", "side", "left", None].path, 0.5)
    (x, y), _ = dog.path(WOUND, "side", "left", None).path
    assert (x - lumbar[0]) / dog.length == pytest.approx(0.1)
    assert (y - lumbar[1]) / dog.length == pytest.approx(-0.1)
    assert math.isclose(dog.length, 0.5, abs_tol=0.05)
    assert view_of(WOUND) == "side"
    mark = Mark(region=WOUND, side="left", aspect=None, number=1, of=2)
    drawn = draw_dog(width=60, height=16, look="console", side="left", region=WOUND, current=mark)
    other = draw_dog(width=60, height=16, look="console", side="left", region="lumbar")
    assert drawn.text != other.text


@pytest.mark.parametrize("key", ["wound@", "@lumbar", "wound@thigh", "wound@hip~", "a@hip:1"])
def test_what_is_no_key(key: str) -> None:
    assert not is_region(key)
    with pytest.raises(KeyError):
        region(key)


def test_a_key_holds_its_parts() -> None:
    for key in (SCAR, WOUND, "Wunde@stifle:-3,0"):
        assert str(read_key(key, regions())) == key
    assert str(PlaceKey(name="x", anchor="hip")) == "x@hip"


BAD = {
    "off the dog": (
        ("across_cm = -4.9", "across_cm = 30"),
        "places[2]",
        "a place off the dog (4.9 cm along, 30 cm across)",
        "offsets that stay on a dog of this size",
    ),
    "neither at nor between": (
        ('region = "lumbar"\nalong_cm', "along_cm"),
        "places[2].region",
        "nothing",
        "region, or between two regions",
    ),
    "both": (
        ('between = ["hip", "stifle"]', 'between = ["hip", "stifle"]\nregion = "hip"'),
        "places[1].region",
        "this beside between",
        "region, or between two regions",
    ),
    "no such region": (
        ('between = ["hip", "stifle"]', 'between = ["hip", "thigh"]'),
        "places[1].between",
        '"thigh"',
        ", ".join(regions()),
    ),
    "no such side": (
        ('side = "right"\nbetween', 'side = "middle"\nbetween'),
        "places[1].side",
        '"middle"',
        "left, right: hip (coxofemoral) joint has no middle",
    ),
    "the name of a region": (
        ('name = "wound"', 'name = "hip"'),
        "places[2].name",
        '"hip"',
        "a name that is no region and no other place",
    ),
    "a name with the sign of keys": (
        ('name = "wound"', 'name = "wound@home"'),
        "places[2].name",
        '"wound@home"',
        "text without @",
    ),
    "the other side": (
        ('region = "wound"\nsides = ["left"]', 'region = "wound"\nsides = ["right"]'),
        "regions[4].sides",
        '["right"]',
        '["left"], the side of "wound" in [[places]]',
    ),
    "contact at a distance": (
        ("contact = true", "contact = true\ndistance_cm = 2"),
        "regions[4].distance_cm",
        "this beside contact = true",
        "only one of both",
    ),
}


@pytest.mark.parametrize(("change", "field", "found", "allowed"), BAD.values(), ids=BAD)
def test_bad_places(change: tuple[str, str], field: str, found: str, allowed: str) -> None:
    problems = problems_of(changed(change, text=OWN))
    assert (field, found, allowed) in [(p.field, p.found, p.allowed) for p in problems]
    # Regions that name a place which cannot be used are told beside it, and nothing else is.
    assert all(p.field == field or p.field.endswith(".region") for p in problems)
