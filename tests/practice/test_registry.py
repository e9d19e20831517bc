"""The registry: only handovers without names, small cells hidden, alike on every engine."""

import datetime
import json
import zipfile
from decimal import Decimal
from pathlib import Path

import pytest

from coach import __version__
from coach.cli import run
from coach.cli.exits import Exit
from coach.handover.build_info import Made
from coach.handover.folder import write_handover
from coach.handover.tables import SPOT_COLUMNS, csv_bytes
from coach.journal.signing import DeviceKey
from coach.practice.duck import duck_of_lake, write_lake
from coach.practice.registry import Cell, Change, Registry, registry
from coach.practice.rules import house_rules
from coach.practice.store import SqliteStore, load, with_store
from tests.handover.conftest import plain_report
from tests.handover.weeks import weeks
from tests.practice.many import TODAY, held, write

__all__ = ["plain_report"]
RULES = house_rules()
AT = f"{TODAY}T10:00:00+01:00"
MONDAY = datetime.date(2026, 11, 16)


def asked(folder: Path, least: int = 5) -> Registry:
    def work(store: SqliteStore) -> Registry:
        assert load(store, folder, RULES) == []
        return registry(store, RULES, is_lake=False, least=least)

    return with_store(folder, RULES, [], work)


def spot(session: str, region: str, *, given: str = "30", counted: str = "30") -> dict[str, str]:
    empty = dict.fromkeys((column.name for column in SPOT_COLUMNS), "")
    return empty | {
        "session": session,
        "region": region,
        "prescribed_s": "30",
        "given_s": given,
        "counted_s": counted,
        "mean_power_mw": "100",
    }


def many_without_names(
    folder: Path, dogs: int, *, names: bool = False, region: str = "hip"
) -> None:
    """Each dog: two sessions in one week, two spots ordered in each, the second left out once."""
    for number in range(dogs):
        rows = [
            held(n, MONDAY + datetime.timedelta(days=2 * n), tolerance_0_10=str(4 + 2 * n))
            for n in (0, 1)
        ]
        place = folder / f"{region}-{number}-{names}"
        missed = {"session": rows[1]["session"], "region": region, "prescribed_s": 30.0}
        write(
            place,
            dog=f"dog-{number}",
            device=f"{region}{number}",
            made_at=AT,
            sessions=rows,
            made={"at": AT, "names": names},
            missed=[{**missed, "given_s": 0.0}],
            scores=[
                {"at": f"2026-11-{day}T09:00:00+01:00", "score_0_10": day - 10} for day in (16, 18)
            ],
        )
        first, second = (row["session"] for row in rows)
        spots = [
            spot(first, region),
            # Logged, but corrected away: it does not count.
            spot(first, region, counted="0"),
            spot(second, region, given="12", counted="12"),
        ]
        (place / "spots.csv").write_bytes(csv_bytes(SPOT_COLUMNS, spots))


def test_energy_by_region_and_week_by_hand(tmp_path: Path) -> None:
    """100 mW for 30 s is 3 J: ordered are 2 x 2 spots a dog, given 30 s and 12 s of them."""
    many_without_names(tmp_path, 5)
    many_without_names(tmp_path, 4, region="stifle")
    many_without_names(tmp_path, 6, names=True, region="elbow")
    found = asked(tmp_path)
    cell = Cell(
        practice="practice",
        region="hip",
        monday=MONDAY,
        dogs=5,
        sessions=2,
        prescribed_j=60.0,
        given_j=21.0,
    )
    assert found.cells == (cell,)
    assert found.changes == (
        Change(what="score", practice="practice", dogs=9, first=6.0, last=8.0),
        Change(what="tolerance", practice="practice", dogs=9, first=4.0, last=6.0),
    )
    # Four dogs could be found out: the cell is only counted. With names: not even that.
    assert (found.hidden, found.handovers, found.left_out) == (1, 15, 6)


def test_a_hidden_cell_leaves_no_figure_anywhere(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    many_without_names(tmp_path, 4)
    for words in ([], ["--json"]):
        assert run(["caseload", str(tmp_path), "--registry", *words]) == Exit.DONE
        out = capsys.readouterr().out
        assert "hip" not in out
        assert "48" not in out
        assert "dog-" not in out
    assert json.loads(out)["hidden"] == 3
    assert json.loads(out)["cells"] == []


def test_it_is_alike_in_a_lake(tmp_path: Path) -> None:
    many_without_names(tmp_path / "in", 7)

    def work(store: SqliteStore) -> None:
        load(store, tmp_path / "in", RULES)
        write_lake(store, tmp_path / "lake", practice="practice")

    with_store(tmp_path / "in", RULES, [], work)
    assert registry(duck_of_lake(tmp_path / "lake"), RULES, is_lake=True) == asked(tmp_path / "in")


def test_a_real_handover_without_names_adds_up_to_its_own_report(
    tmp_path: Path, plain_report: None
) -> None:
    key = DeviceKey(bytes(32))
    weeks(tmp_path / "dog", key)
    done = write_handover(
        tmp_path / "dog",
        tmp_path / "in",
        made=Made(at=AT, program=__version__),
        signer=key,
        with_names=False,
        zipped=True,
    )
    assert done.path.suffix == ".zip"
    found = asked(tmp_path / "in", least=1)
    with zipfile.ZipFile(done.path) as archive:
        summary = json.loads(archive.read("summary.json"))
    for name, total in (("prescribed_j", "prescribed_j"), ("given_j", "counted_j")):
        ours = sum(Decimal(str(getattr(cell, name))) for cell in found.cells)
        assert float(ours) == pytest.approx(summary["totals"][total], abs=0.01)
