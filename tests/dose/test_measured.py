"""Light measured behind tissue of dogs: as printed, with how we saw it, and computed with nowhere.

Hoisang 2022 (abstract); Piao 2019 and 2024 (abstracts); Acta Vet Scand 2019, proceedings, table 1.
All seen as excerpts on 28 November 2026.
"""

import re
import subprocess
from pathlib import Path

import pytest

from coach.body.regions import regions
from coach.cli import run
from coach.cli.exits import Exit
from coach.dose.measured import CAVEAT, measured_in, rows

ROOT = Path(__file__).parents[2]

# site: value, spread, dogs, alive, contact. Typed from the abstracts and the table.
PRINTED = {
    "abdomen, skin alone, 2.97 mm": ("13.00", "4.99", 20, True, True),
    "abdomen, skin and muscle, 15.87 mm": ("1.46", "1.11", 20, True, True),
    "skin over the thoracolumbar spine": ("4 to 12 %", "", 6, False, None),
    "spinal canal at T13, through the skin": ("35.7", "33.2", 6, False, False),
    "spinal canal at T13, skin taken away": ("234.0", "120.7", 6, False, False),
    "spinal canal, thoracic to lumbar": ("0.137", "0.095", 3, False, True),
    "ear flap": ("7.02 %", "", None, None, None),
    "groin": ("6.56 %", "", None, None, None),
    "calcaneal tendon": ("5.12 %", "", None, None, None),
    "triceps muscle": ("2.59 %", "", None, None, None),
    "distal intervertebral space": ("2.56 %", "", None, None, None),
    "tail vertebra": ("0.00 %", "", None, None, None),
    "thigh, near the body": ("0.00 %", "", None, None, None),
}


def test_the_rows_are_as_printed_and_no_others() -> None:
    found = {row.site: (row.value, row.spread, row.n, row.alive, row.contact) for row in rows()}
    assert found == PRINTED


# The shares of the surface that stand in "seen", from the numbers of the abstracts.
@pytest.mark.parametrize(
    ("site", "there", "surface", "share"),
    [
        ("spinal canal at T13, through the skin", 35.7e-6, 3.14, "1.1e-5"),
        ("spinal canal at T13, skin taken away", 234.0e-6, 3.14, "7.5e-5"),
        ("spinal canal, thoracic to lumbar", 0.137, 157, "8.7e-4"),
    ],
)
def test_the_shares_close(site: str, there: float, surface: float, share: str) -> None:
    (row,) = (row for row in rows() if row.site == site)
    assert share in row.seen
    assert there / surface == pytest.approx(float(share), rel=0.04)


def test_every_row_has_its_source_status_and_a_region_that_exists() -> None:
    for row in rows():
        assert row.source
        assert row.seen
        assert row.status in ("read", "excerpt", "second-hand")
        assert set(row.regions) <= set(regions())
        # Texts: nobody multiplies by a text.
        assert isinstance(row.value, str)


def test_a_region_shows_its_rows_with_the_caveat(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["regions", "lumbar", "--measured"]) == Exit.DONE
    out = " ".join(capsys.readouterr().out.split())
    assert CAVEAT == "A range seen, not a dose; nothing in this program is computed from it."
    assert CAVEAT in out
    for words in ("35.7 ± 33.2", "6 dogs, cadavers; 980 nm; not in contact", "seen as an excerpt"):
        assert words in out
    assert "calcaneal tendon" not in out
    assert {row.site for row in measured_in("hock")} >= {"calcaneal tendon", "ear flap"}


def test_a_region_must_be_named(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["regions", "--measured"]) == Exit.BAD_INPUT
    assert "--measured" in capsys.readouterr().err


def test_nothing_is_computed_from_it() -> None:
    """Only the command that shows it may know it."""
    found = subprocess.run(
        ["git", "grep", "-lE", r"dose(\.| import )measured|measured\.toml", "--", "coach"],
        capture_output=True, text=True, check=False, cwd=ROOT,
    )  # fmt: skip
    files = set(found.stdout.split()) or {
        str(path.relative_to(ROOT))
        for path in (ROOT / "coach").rglob("*.py")
        if re.search(r"dose(\.| import )measured|measured\.toml", path.read_text("utf-8"))
    }
    assert files <= {"coach/cli/regions.py", "coach/dose/measured.py", "coach/dose/measured.toml"}
    assert "coach/cli/regions.py" in files
