"""What comes from files reaches no terminal as it is: no escape sequence, nothing turned round."""

import os
import shutil
from pathlib import Path

import pytest

from coach.cli import run
from coach.cli.exits import Exit
from coach.handover.folder import write_handover
from coach.handover.tables import harmless
from coach.journal.diary_entries import AfterSession
from coach.journal.signing import DeviceKey
from coach.shown import guarded, plain
from tests.handover.conftest import MADE
from tests.handover.dogs import PLAN, said, session

pytestmark = pytest.mark.usefixtures("plain_report")

EVIL = "Pip\x1b]0;owned\x07\x1b[2J\x9b1A\u202egnp.exe\rOK"


def safe(text: str) -> bool:
    """Whether nothing in ``text`` is obeyed by a terminal."""
    return not set(text) & {*map(chr, range(0x20)), *map(chr, range(0x7F, 0xA0)), "\u202e"} - {
        "\n",
        "\t",
    }


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("plain \u00e4 \U0001f415 text\n\tline", "plain \u00e4 \U0001f415 text\n\tline"),
        ("a\x1b[31mred\x1b[0m", "ared"),
        ("a\x1b]52;c;cm0=\x07b", "a?]52;c;cm0=?b"),
        ("\x1b[6n", "?[6n"),
        ("one\r\ntwo\rthree", "one\r\ntwo?three"),
        ("\x00\x08\x7f\x9b\x85", "?????"),
        ("a\u202eb\u2066c\u200fd", "a?b?c?d"),
        ("half \ud800 \udcff", "half ? ?"),
        ("two\u2028lines", "two?lines"),
    ],
)
def test_what_a_terminal_would_obey_is_a_question_mark(text: str, shown: str) -> None:
    assert plain(text) == shown
    assert plain(shown) == shown


def test_whatever_is_printed_is_guarded(capsys: pytest.CaptureFixture[str]) -> None:
    with guarded(), guarded():
        print(EVIL)
    told = capsys.readouterr().out
    assert safe(told)
    assert "owned" in told
    print("\x1b[1m", end="")
    assert capsys.readouterr().out == "\x1b[1m"


@pytest.mark.parametrize(
    "ahead", ["", " ", "\t", "\r", "\x1b", "\x1b[0m", "\x00 ", "\u202e", "\ufeff"]
)
@pytest.mark.parametrize("sign", ["=", "+", "-", "@"])
def test_a_formula_is_one_behind_an_escape_too(ahead: str, sign: str) -> None:
    cell = harmless(f"{ahead}{sign}cmd|' /C calc'!A0")
    assert cell.startswith("'")
    assert harmless("-1.5") == "-1.5"
    assert harmless("a = b") == "a = b"


def test_a_dog_with_an_evil_name_everywhere(
    dog: Path, key: DeviceKey, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = session(dog, "2026-11-10", dog=EVIL, key=key)
    said(dog, AfterSession(session=path.stem, skin="warm", note="\x1b[2Jgone"), dog=EVIL)
    to = tmp_path / "\x1b[2Jpractice"
    done = write_handover(dog, to, made=MADE, signer=key, with_names=True, zipped=False)
    (done.path / "\x1b]0;file\x07").write_text("?")
    zipped = shutil.make_archive(str(to / "evil\x1b[2J"), "zip", done.path)
    odd = tmp_path / os.fsdecode(b"odd\xff\x1b[2J.jsonl")
    odd.write_text("?")
    plan = tmp_path / "\x1b[2J.toml"
    plan.write_text(PLAN + '\n"\x1b[2J" = 1\n')
    for words in (
        ["verify", str(path), str(done.path), zipped, str(odd)],
        ["tally", str(path), str(odd)],
        ["check", str(plan)],
        ["take", str(plan)],
        ["caseload", str(to)],
        ["caseload", str(to), "--csv"],
        ["caseload", str(to), "--json"],
        ["handover", "Pip", "--to", str(to)],
        ["repair", str(odd)],
    ):
        assert run(words) != Exit.FAILED, words
        told = capsys.readouterr()
        assert safe(told.out.replace("\r\n", "\n")), words
        assert safe(told.err), words
        assert told.out or told.err, words


def test_the_course_as_a_table_is_guarded(
    dog: Path, key: DeviceKey, capsys: pytest.CaptureFixture[str]
) -> None:
    (dog / "plan.toml").write_text(PLAN.replace('"Juniper"', '"Pip"'))
    session(dog, "2026-11-10", key=key)
    (path,) = (dog / "journals").glob("0*.jsonl")
    path.write_bytes(path.read_bytes().replace(b'"lumbar"', b'"lum\\u001b[2J"'))
    run(["tally", "--course", "Pip", "--csv"])
    run(["tally", str(path)])
    told = capsys.readouterr()
    assert safe((told.out + told.err).replace("\r\n", "\n"))
