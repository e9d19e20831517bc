"""The published rows against the print, and what is said of a plan outside them."""

import tomllib
from fractions import Fraction
from importlib.resources import files

import pytest

from coach.body.regions import regions
from coach.dose.bands import Band, Planned, bands, bands_for, remarks

BOOK = "Suarez Redondo & Stephens"


def pair(low: int, high: int) -> tuple[Fraction, Fraction]:
    return Fraction(low), Fraction(high)


def row(source: str, site: str) -> Band:
    (found,) = (
        band for band in bands() if band.source.name.startswith(source) and band.site == site
    )
    return found


# WALT 2010, 780-860 nm: (points, J in total, at least J a point, status). Typed from the sheet as
# quoted (R2; knee and ankle M).
WALT_780_860 = {
    "cervical spine": ((4, 12), 16, 4, "second-hand"),
    "lumbar spine": ((4, 8), 16, 4, "second-hand"),
    "hip": ((2, 4), 12, 6, "second-hand"),
    "shoulder (glenohumeral)": ((2, 4), 8, 4, "second-hand"),
    "elbow": ((2, 4), 8, None, "second-hand"),
    "wrist": ((2, 4), 8, None, "second-hand"),
    "finger joint (PIP, MCP)": ((1, 2), 4, None, "second-hand"),
    "knee, anteromedial": ((3, 6), 12, 4, "memory"),
    "ankle": ((2, 4), 8, None, "memory"),
}


@pytest.mark.parametrize("site", WALT_780_860)
def test_the_rows_for_780_to_860_nm_are_as_printed(site: str) -> None:
    points, total_j, least_j, status = WALT_780_860[site]
    found = row("WALT 2010 dose recommendations, 780-860 nm", site)
    assert found.points == points
    assert found.total_j == total_j
    assert found.least_j_each == least_j
    assert found.status == status
    assert found.source.made_for == "people"
    assert found.source.mean_power_mw == pair(5, 500)
    assert found.source.duration_s == pair(20, 300)


# WALT 2010, 904 nm, all from memory.
WALT_904 = {
    "cervical spine": ((4, 4), 4, 1),
    "lumbar spine": ((4, 4), 4, 1),
    "hip": ((2, 2), 4, 2),
    "knee": ((4, 6), 4, 1),
    "other joints": ((2, 3), 2, None),
    "finger joint": ((1, 2), 1, None),
}


@pytest.mark.parametrize("site", WALT_904)
def test_the_rows_for_904_nm_are_as_remembered_and_say_so(site: str) -> None:
    points, total_j, least_j = WALT_904[site]
    found = row("WALT 2010 dose recommendations, 904 nm", site)
    assert found.points == points
    assert found.total_j == total_j
    assert found.least_j_each == least_j
    assert found.status == "memory"
    assert "from memory, to be checked" in found.quote()
    low, high = points
    number = f": {low} points," if low == high else f": {low} to {high} points,"
    assert number in found.quote()


# Read: p. 118 and p. 107 of the 2019 book; Am J Vet Res 2024;85(2).
@pytest.mark.parametrize(
    ("source", "site", "low", "high"),
    [
        (BOOK, "carpus, tarsus", 4, 8),
        (BOOK, "elbow, stifle", 6, 12),
        (BOOK, "spine and hip of a large dog", 8, 20),
        (BOOK, "most musculoskeletal cases", 4, 15),
        ("Am J Vet Res 2024", "any", 3, 10),
    ],
)
def test_the_rows_for_animals_are_as_printed(source: str, site: str, low: int, high: int) -> None:
    found = row(source, site)
    assert found.fluence_j_cm2 == pair(low, high)
    assert found.status == "read"
    assert found.source.made_for != "people"


def test_the_table_has_these_rows_and_no_others() -> None:
    assert len(bands()) == len(WALT_780_860) + len(WALT_904) + 5


def test_every_row_names_regions_that_exist() -> None:
    for band in bands():
        assert band.regions == ("*",) or set(band.regions) <= set(regions()), band.site


def test_rows_are_found_by_region_and_wavelength() -> None:
    sites = [band.site for band in bands_for("neck_upper", wavelength_nm=Fraction(808))]
    assert sites == [
        "cervical spine",
        "spine and hip of a large dog",
        "most musculoskeletal cases",
        "any",
    ]
    at_905 = bands_for("neck_upper", wavelength_nm=Fraction(905))
    assert [band.points for band in at_905 if band.source.made_for == "people"] == [(4, 4)]
    at_980 = bands_for("neck_upper", wavelength_nm=Fraction(980))
    assert all(band.source.made_for != "people" for band in at_980)
    tail = [band.site for band in bands_for("tail_base", wavelength_nm=Fraction(808))]
    assert tail == ["most musculoskeletal cases", "any"]


CERVICAL = "WALT 2010 dose recommendations, 780-860 nm"


def planned(**changes: int | Fraction) -> Planned:
    """4 spots of 4 J at 100 mW: the very row D20 (WALT 2010, R2)."""
    values: dict[str, int | Fraction] = {
        "spots": 4, "energy_j": 4, "duration_s": 40, "mean_power_mw": 100, **changes
    }  # fmt: skip
    return Planned(
        spots=int(values["spots"]),
        energy_j=Fraction(values["energy_j"]),
        duration_s=Fraction(values["duration_s"]),
        mean_power_mw=Fraction(values["mean_power_mw"]),
        fluence_j_cm2=Fraction(values["fluence_j_cm2"]) if "fluence_j_cm2" in values else None,
    )


def test_a_plan_inside_a_row_gets_no_remark() -> None:
    assert remarks(row(CERVICAL, "cervical spine"), planned()) == []


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"spots": 3, "energy_j": 6}, ["3 spots"]),
        ({"spots": 13}, ["13 spots"]),
        ({"energy_j": 3}, ["12 J in all", "3 J a spot"]),
        ({"spots": 8, "energy_j": 2}, ["2 J a spot"]),
        ({"mean_power_mw": 501}, ["501 mW mean power, outside the 5 to 500 mW"]),
        ({"mean_power_mw": 4}, ["4 mW mean power"]),
        ({"duration_s": 19}, ["19 s a spot, outside the 20 to 300 s"]),
        ({"duration_s": 301}, ["301 s a spot"]),
    ],
)
def test_a_plan_outside_a_row_is_told_the_row_its_source_and_who_decides(
    changes: dict[str, int], said: list[str]
) -> None:
    found = remarks(row(CERVICAL, "cervical spine"), planned(**changes))
    assert [text.startswith(start) for text, start in zip(found, said, strict=True)] == [
        True
    ] * len(said)
    for text in found:
        assert "cervical spine: 4 to 12 points, 16 J in total, at least 4 J a point" in text
        assert "made for people; second-hand" in text
        assert text.endswith("the prescriber decides")


@pytest.mark.parametrize(
    ("fluence", "outside"),
    [(Fraction("5.9"), True), (6, False), (12, False), (Fraction("12.1"), True)],
)
def test_a_fluence_is_compared_where_it_is_known(fluence: int | Fraction, outside: bool) -> None:
    elbow = row(BOOK, "elbow, stifle")
    assert bool(remarks(elbow, planned(fluence_j_cm2=fluence))) is outside
    assert remarks(elbow, planned()) == []


def test_there_is_no_menu_of_conditions() -> None:
    raw = tomllib.loads((files("coach.dose") / "bands.toml").read_text(encoding="utf-8"))
    assert set(raw) == {"sources", "rows"}
    allowed = {
        "source", "site", "regions", "status", "points", "total_j", "least_j_each",
        "fluence_j_cm2",
    }  # fmt: skip
    assert all(set(entry) <= allowed for entry in raw["rows"])


def test_the_table_is_read_whole() -> None:
    # The file itself, read by hand here: nothing in it may be lost on the way.
    text = (files("coach.dose") / "bands.toml").read_text(encoding="utf-8")
    raw = tomllib.loads(text)
    sources = {row["key"]: row for row in raw["sources"]}
    for band, row in zip(bands(), raw["rows"], strict=True):
        source = sources[row["source"]]
        assert (band.source.key, band.source.name) == (source["key"], source["name"])
        assert band.source.made_for == source["made_for"]
        for name in ("wavelength_nm", "mean_power_mw", "duration_s"):
            assert getattr(band.source, name) == two(source.get(name))
        assert (band.site, band.regions) == (row["site"], tuple(row["regions"]))
        assert band.status == row["status"]
        assert (band.total_j, band.least_j_each) == (row.get("total_j"), row.get("least_j_each"))
        assert band.points == (tuple(row["points"]) if "points" in row else None)
        assert band.fluence_j_cm2 == two(row.get("fluence_j_cm2"))


def two(value: list[int] | None) -> tuple[Fraction, Fraction] | None:
    return None if value is None else pair(value[0], value[1])


@pytest.mark.parametrize(("spots", "outside"), [(3, True), (4, False), (12, False), (13, True)])
def test_the_ends_of_a_range_are_inside_it(spots: int, outside: bool) -> None:
    # WALT 2010, 780-860 nm, cervical spine: 4 to 12 points.
    band = next(band for band in bands() if band.site == "cervical spine")
    planned = Planned(
        spots=spots,
        energy_j=Fraction(6),
        fluence_j_cm2=None,
        mean_power_mw=Fraction(100),
        duration_s=Fraction(60),
    )
    said = [text for text in remarks(band, planned) if f"{spots} spots" in text]
    assert bool(said) == outside
