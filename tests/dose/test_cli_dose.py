"""``coach dose`` as it is typed: published doses, every order of words, and bad input.

The published rows with source and status stand in ``test_published_doses.py``.
"""

import json
from collections.abc import Sequence
from importlib.resources import files
from typing import Any

import jsonschema
import pytest

from coach.cli import run
from coach.cli.dose import NAMES
from coach.cli.exits import Exit
from tests.dose.test_published_doses import ROWS, Row

NAME = {quantity: name for name, quantity in NAMES.items()}
SCHEMA = json.loads((files("coach.dose") / "dose.schema.json").read_text(encoding="utf-8"))


def answered(capsys: pytest.CaptureFixture[str], *words: str) -> Any:
    """The JSON for ``words``; it must be an answer, and nothing on stderr."""
    assert run(["dose", *words, "--json"]) == Exit.DONE
    out, err = capsys.readouterr()
    assert err == ""
    found = json.loads(out)
    jsonschema.validate(found, SCHEMA)
    return found


def printed(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    assert run(["dose", *words]) == Exit.DONE
    out, err = capsys.readouterr()
    assert err == ""
    return " ".join(out.split())


def refused(capsys: pytest.CaptureFixture[str], words: Sequence[str]) -> list[str]:
    """The lines on stderr; nothing may be on stdout."""
    assert run(["dose", *words]) == Exit.BAD_INPUT
    out, err = capsys.readouterr()
    assert out == ""
    return err.splitlines()


@pytest.mark.parametrize("dashes", [True, False], ids=["--name value", "name=value"])
@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.id)
def test_published_doses_through_the_command_line(
    row: Row, dashes: bool, capsys: pytest.CaptureFixture[str]
) -> None:
    words = [f"spots={row.spots}"]
    for quantity, text in row.given.items():
        name = NAME[quantity]
        words += [f"--{name}", text] if dashes else [f"{name}={text}"]
    found = answered(capsys, *words)
    for quantity, expected in row.expected.items():
        assert found["values"][quantity] == pytest.approx(expected, rel=row.relative), quantity
    if row.session_energy_j is not None:
        assert found["session_energy_j"] == pytest.approx(row.session_energy_j)


def test_a_published_dose_that_does_not_close_is_flagged(
    capsys: pytest.CaptureFixture[str],
) -> None:
    # D15, R: Olivieri 2015, Vet Dermatol 26:35: 1.208 W, 80.4 s, 25 cm2, stated 3 J/cm2; it makes
    # 3.885 J/cm2, +29.5 %, within 0.1 %.
    words = ("mean-power=1.208W", "time=80.4s", "area=25cm2", "fluence=3J/cm2")
    found = answered(capsys, *words)
    assert found["closes"] is False
    (finding,) = found["not_closing"]
    assert finding["quantity"] == "fluence_j_cm2"
    assert finding["computed"] == pytest.approx(3.885, rel=1e-3)
    assert finding["deviation_percent"] == pytest.approx(29.5, rel=1e-3)
    assert "1.208 W × 80.4 s" in printed(capsys, *words)


def test_watts_for_milliwatts_are_named(capsys: pytest.CaptureFixture[str]) -> None:
    # D16, R2: Guaraldo, quoted in Oxid Med Cell Longev 2017/5273403: "100 W", 40 s, 4 J; 4000 J.
    words = ("--mean-power", "100 W", "--time", "40 s", "--energy", "4 J")
    found = answered(capsys, *words)
    assert found["values"]["energy_j"] == 4000
    (finding,) = found["not_closing"]
    assert finding["computed"] / finding["stated"] == 1000
    assert "mW written as W" in finding["slips"][0]
    text = printed(capsys, *words)
    assert "1000 times as much" in text
    assert "mW written as W" in text


def test_words_may_come_in_any_order(capsys: pytest.CaptureFixture[str]) -> None:
    # D10, R2: Fukuda 2011, quoted by Fangel 2019: 3 J and 6 J/cm2 a spot, 27 J for 9 points.
    orders = (
        ("mean-power=60mW", "--time", "50s", "area=0.5cm2", "--spots", "9"),
        ("--spots=9", "area=0.5cm2", "--time", "50s", "--mean-power=60mW"),
        ("--area", "0.5 cm²", "time=0:50", "spots=9", "MEAN_POWER=0.06W"),
    )
    for words in orders:
        found = answered(capsys, *words)
        assert found["values"]["energy_j"] == 3
        assert found["values"]["fluence_j_cm2"] == 6
        assert found["session_energy_j"] == 27


def test_a_course_is_added_up(capsys: pytest.CaptureFixture[str]) -> None:
    # 27 J a session (D10, above) in 10 sessions (D19, R: acral-lick trial 2021).
    words = ("mean-power=60mW", "time=50s", "spots=9", "sessions=10")
    assert answered(capsys, *words)["course_energy_j"] == 270
    assert "Course of 10 sessions: 270 J" in printed(capsys, *words)


def test_the_answer_says_what_was_given_how_it_follows_and_that_it_prescribes_nothing(
    capsys: pytest.CaptureFixture[str],
) -> None:
    # D06, R: BC Physical Therapy Tendinopathy Task Force: 2 J at 50 mW take 40 s.
    text = printed(capsys, "mean-power=50mW", "energy=2J")
    assert "mean power 50 mW as given" in text
    assert "time 40 s" in text
    assert "energy / mean power = 2 J / 0.05 W = 40 s" in text
    assert "prescribes nothing" in text


@pytest.mark.parametrize(
    ("word", "says"),
    [
        # Both readings: 1.34 min is 80.4 s; 1 min 34 s is 94 s.
        ("time=1.34 min", ["80.4 s", "1 min 34 s", "94 s"]),
        ("time=1:3", ["1:03", "1:30"]),
        ("time=0s", ["more than zero"]),
        ("time=-5s", ["more than zero"]),
        ("time=90", ["unit is missing", "90 s"]),
        ("time=NaNs", ["a number above zero"]),
        ("time=infs", ["a number above zero"]),
        ("time=1e30s", ["allowed: 0.000000001 to 86400 s"]),
        ("time=1e999999999s", ["a number above zero"]),
        ("energy=0,5J", ["0.5, not 0,5"]),
        ("energy=4", ["4 J"]),
        ("energy=4W", ['unit "W" does not fit']),
        ("power=3W", ["mean-power or peak-power"]),
        ("fluense=4J/cm2", ["fluence"]),
        ("800mW", ["NAME=VALUE"]),
        ("spots=0", ["1 to 10000"]),
        ("sessions=2.5", ["a whole number"]),
        ("time=\x1b[31m", ["\\x1b"]),
    ],
)
def test_bad_input_is_refused_with_what_was_found_and_what_is_allowed(
    word: str, says: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    (line,) = refused(capsys, ["mean-power=800mW", word])
    for words in ["found", "allowed", *says]:
        assert words in line
    assert "\x1b" not in line


def test_what_no_slip_of_units_explains_gets_no_guess(
    capsys: pytest.CaptureFixture[str],
) -> None:
    (line,) = refused(capsys, ["mean-power=800mW", "energy=1e30J"])
    assert line.endswith("allowed: 0.000001 to 100000 J")
    # 200000 J are 200 J written in mJ.
    (line,) = refused(capsys, ["mean-power=800mW", "energy=200000J"])
    assert line.endswith("(this looks like mJ written as J)")


def test_everything_that_is_wrong_is_told_at_once(capsys: pytest.CaptureFixture[str]) -> None:
    bad = ["--time", "-5s", "mean-power=0mW", "--energy", "1e30J", "area=0,5cm2", "time=90s", "x"]
    lines = refused(capsys, [*bad, "--json"])
    assert len(lines) == 6
    for start in ("--time:", "mean-power:", "--energy:", "area:", "time:", 'found "x"'):
        assert any(line.startswith(f"coach dose: {start}") for line in lines)
    assert any("second value" in line for line in lines)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ([], "--help"),
        (["mean-power=800mW"], "any two of mean power, time and energy"),
        (["peak-power=12W", "mean-power=18W"], "over 100 %"),
    ],
)
def test_what_has_no_answer_is_refused(
    words: list[str], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    (line,) = refused(capsys, words)
    assert says in line


@pytest.mark.parametrize("words", [["--time"], ["--tim", "90s"], ["--joules=4"]])
def test_options_that_are_none_are_refused(
    words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        run(["dose", "mean-power=800mW", *words])
    assert ended.value.code == Exit.BAD_INPUT
    assert capsys.readouterr().out == ""


def test_every_example_of_the_help_works(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        run(["dose", "--help"])
    text = capsys.readouterr().out
    assert "prescribes nothing" in text
    examples = [
        line.split("  ")[1].split()[2:] for line in text.splitlines() if line.startswith("  coach")
    ]
    assert len(examples) >= 5
    for words in examples:
        printed(capsys, *words)
    for name in NAMES:
        assert f"--{name} " in text
