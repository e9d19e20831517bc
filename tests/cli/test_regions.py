"""``coach regions`` as a user meets it: what is printed, and how it ends."""

import subprocess
import sys

import pytest

from coach.body.regions import Region, regions
from coach.cli import run
from coach.screens.region_page import places

ALL = list(regions().values())


def lines(capsys: pytest.CaptureFixture[str]) -> list[str]:
    return capsys.readouterr().out.splitlines()


def flowing(text: list[str]) -> str:
    return " ".join(" ".join(text).split())


def test_without_a_key_every_region_is_listed_in_both_languages(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert run(["regions"]) == 0
    text = lines(capsys)
    assert max(map(len, text)) <= 60
    whole = flowing(text)
    for place in ALL:
        entry = f"{place.key} {place.owner_words} {place.term}: {', '.join(place.sides)}"
        assert entry + ("; " + ", ".join(place.aspects) if place.aspects else "") in whole


@pytest.mark.parametrize("look", ["colour", "console"])
@pytest.mark.parametrize("place", ALL, ids=lambda place: place.key)
def test_a_page_has_words_landmark_hold_cautions_and_a_picture(
    place: Region, look: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["regions", place.key, "--look", look]) == 0
    text = lines(capsys)
    assert max(map(len, text)) <= 60
    whole = flowing(text)
    for words in (place.owner_words, place.term, place.feel, place.hold, place.spoken):
        assert words in whole
    for caution in place.cautions:
        assert f"Care: {caution}" in whole
    assert "Eyewear on everyone" in whole
    # The block of the place that is shown, and a sign for each that is not hidden by the dog.
    block = {"colour": ("▄███▄", "▀███▀"), "console": ("##1##",)}[look]
    assert all(sign in "\n".join(text) for sign in block)
    if look == "console":
        assert "\n".join(text).replace("·", "").isascii()


@pytest.mark.parametrize(
    ("words", "key"),
    [
        # Region keys, trade terms and owner's words of regions.toml.
        (["stifle"], "stifle"),
        (["stifle", "joint"], "stifle"),
        (["knee"], "stifle"),
        (["Lower", "Back"], "lumbar"),
        (["lumbar spine"], "lumbar"),
        (["TAIL-BASE"], "tail_base"),
        (["neck upper"], "neck_upper"),
    ],
)
def test_a_region_is_found_by_any_of_its_names(
    words: list[str], key: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["regions", *words]) == 0
    assert f"Plans: {key} " in flowing(lines(capsys)) + " "


@pytest.mark.parametrize(
    ("typed", "meant"),
    [("lumber", "lumbar"), ("stifel", "stifle"), ("wrsit", "carpus"), ("elbw", "elbow")],
)
def test_a_slip_is_told_what_was_probably_meant(
    typed: str, meant: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["regions", typed]) == 2
    streams = capsys.readouterr()
    assert streams.out == ""
    assert f'"{typed}" found. Did you mean "{meant}"?' in streams.err
    assert all(place.key in streams.err.partition("Allowed:")[2] for place in ALL)


def test_words_that_fit_several_regions_name_them_all(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert run(["regions", "neck"]) == 2
    error = capsys.readouterr().err
    assert '"neck_upper"' in error
    assert '"neck_lower"' in error


def test_everything_wrong_is_told_at_once(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["regions", "hip", "--side", "middle", "--face", "medial"]) == 2
    error = capsys.readouterr().err.splitlines()
    assert error == [
        'coach regions: --side: "middle" found. Allowed: left, right',
        'coach regions: --face: "medial" found. Allowed: lateral, cranial, caudal',
    ]


def test_a_side_without_a_region_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["regions", "--side", "left"]) == 2
    assert "only together with a KEY" in capsys.readouterr().err


def test_right_is_drawn_the_other_way_round(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["regions", "knee", "--side", "left", "--face", "lateral"]) == 0
    left = lines(capsys)
    assert run(["regions", "knee", "--side", "right", "--face", "lateral"]) == 0
    right = lines(capsys)
    assert "Shown:  left, outside (lateral)" in left
    assert "Shown:  right, outside (lateral)" in right
    assert any(line.startswith("◀ head") for line in left)
    assert any(line.startswith("◀ tail") for line in right)


def test_pages_without_a_terminal_are_printed_and_that_is_said(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert run(["regions", "--pages"]) == 0
    streams = capsys.readouterr()
    assert "No terminal here" in streams.err
    for place in ALL:
        assert f"Plans:  {place.key}" in streams.out
        assert place_line(place) in streams.out


def place_line(place: Region) -> str:
    return f"Shown:  {places(place)[0].side}"


def test_a_real_process_prints_a_page_without_colour_into_a_pipe() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "coach", "regions", "atlas"],
        capture_output=True,
        encoding="utf-8",
        check=True,
    )
    assert done.stderr == ""
    assert "\x1b" not in done.stdout
    assert "atlas (C1)" in done.stdout
