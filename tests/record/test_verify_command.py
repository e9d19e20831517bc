"""``coach verify``, ``coach repair``, ``coach key`` and ``coach tally`` on real files."""

import json
from pathlib import Path

import pytest

from coach.cli import run
from coach.cli.exits import Exit
from tests.record.conftest import MakeJournal


def test_verify_says_whole_damaged_and_unreadable_apart(
    make_journal: MakeJournal, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    good = make_journal()
    assert run(["verify", str(good)]) == Exit.DONE
    assert "whole" in capsys.readouterr().out
    noise = tmp_path / "noise 🐾.jsonl"
    noise.write_bytes(b"\xff" * 5000)
    assert run(["verify", "--json", str(noise), str(good)]) == Exit.NOT_WHOLE
    verdicts = [j["verdict"] for j in json.loads(capsys.readouterr().out)["journals"]]
    assert verdicts == ["unreadable", "whole"]
    assert run(["verify", str(make_journal(closed=False).parent)]) == Exit.NOT_WHOLE
    assert "NOT CLOSED" in capsys.readouterr().out


def test_a_key_must_look_like_one_and_must_have_signed(
    make_journal: MakeJournal, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["key"]) == Exit.DONE
    key = capsys.readouterr().out.strip()
    assert run(["key"]) == Exit.DONE
    assert capsys.readouterr().out.strip() == key
    assert run(["verify", "--key", key, str(make_journal())]) == Exit.NOT_WHOLE
    with pytest.raises(SystemExit) as refused:
        run(["verify", "--key", "abc"])
    assert refused.value.code == Exit.BAD_INPUT
    assert "64 hex digits" in capsys.readouterr().err


def test_repair_and_then_tally_count_the_session_once(
    make_journal: MakeJournal, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = make_journal()
    path.write_bytes(path.read_bytes().replace(b'"kind":"heartbeat"', b'"kind":"heArtbeat"', 1))
    assert run(["repair", str(path)]) == Exit.DONE
    assert "left out: " in capsys.readouterr().out
    assert run(["tally", "--json", str(folder)]) == Exit.DONE
    (session,) = json.loads(capsys.readouterr().out)["sessions"]
    assert session["total"]["given_ns"] == 5_000_000_000
    assert "without its lines" in session["repaired"]
    assert run(["repair", str(make_journal())]) == Exit.BAD_INPUT
    assert "no damage" in capsys.readouterr().err


def test_tally_reads_the_rest_when_a_journal_is_bad(
    make_journal: MakeJournal, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    loop = tmp_path / "loop.jsonl"
    loop.symlink_to(loop)
    assert run(["tally", str(loop), str(make_journal())]) == Exit.BAD_INPUT
    out = capsys.readouterr()
    assert "Every spot had its seconds." in out.out
    assert str(loop) in out.err
