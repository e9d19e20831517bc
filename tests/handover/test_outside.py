"""Whatever comes from outside is read with care: refused with a reason, never followed or believed.

All files are made here; nothing of them is anybody else's.
"""

import json
import os
import socket
import struct
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from coach.cli import run
from coach.cli.exits import Exit
from coach.handover import outside
from coach.handover.folder import write_handover, write_manifest
from coach.handover.outside import NotRead
from coach.handover.recheck import recheck
from coach.handover.take_plan import signed_by
from coach.journal import journal_lines
from coach.journal.journal_lines import GENESIS
from coach.journal.signing import DeviceKey
from coach.plan.files import load_plan
from tests.e2e.virtual import TODAY
from tests.handover.conftest import MADE
from tests.handover.dogs import PLAN, session
from tests.worlds import Clock

pytestmark = pytest.mark.usefixtures("plain_report")


def fifo(path: Path) -> None:
    os.mkfifo(path)


def endless(path: Path) -> None:
    path.symlink_to("/dev/zero")


def link(path: Path) -> None:
    other = path.with_name("elsewhere")
    other.write_text("{}")
    path.symlink_to(other)


def folder(path: Path) -> None:
    path.mkdir()


def listening(path: Path) -> None:
    with socket.socket(socket.AF_UNIX) as made:
        made.bind(os.path.relpath(path))


ODD = [fifo, endless, link, folder, listening]


@pytest.mark.parametrize("odd", ODD)
def test_only_ordinary_files_are_opened(
    tmp_path: Path, odd: Callable[[Path], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    odd(tmp_path / "odd")
    with pytest.raises(NotRead, match="found a"):
        outside.read_file(tmp_path / "odd")
    with pytest.raises(FileNotFoundError):
        outside.read_file(tmp_path / "none")


@pytest.mark.parametrize("odd", ODD)
def test_an_odd_signature_beside_a_plan_is_a_bad_one(
    tmp_path: Path, odd: Callable[[Path], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "plan.toml"
    path.write_text(PLAN)
    odd(tmp_path / "plan.toml.sig")
    assert signed_by(load_plan(path, today=TODAY), {}).state == "bad"


@pytest.mark.parametrize(
    "content",
    [
        b"[" * 100_000,
        b"[" * 60 + b"]" * 60,
        b'{"a": 1e999}',
        b'{"a": -1e999}',
        b'{"a": 1' + b"0" * 30 + b"}",
        b'{"a": ' + b"9" * 5000 + b"}",
        b'{"a": NaN}',
        b'{"a": "\\ud800"}',
        b'{"\\ud800": 1}',
        b'{"a": "\xff"}',
        b"",
        b"\x00",
    ],
)
def test_json_is_bounded(content: bytes) -> None:
    with pytest.raises(NotRead):
        outside.json_of(content)


def test_what_is_allowed_is_read(tmp_path: Path) -> None:
    value = {"a": [1, 2.5, None, True, "\u00e4", -(2**62)]}
    path = tmp_path / "x.json"
    path.write_text(json.dumps(value), encoding="utf-8-sig")
    assert outside.json_of(path.read_bytes()[3:]) == value
    assert outside.read_text(path) == json.dumps(value)
    assert outside.csv_rows('a,"b\n\u2028",c\r\n1,2,3\r\n') == [
        ["a", "b\n\u2028", "c"],
        ["1", "2", "3"],
    ]
    with pytest.raises(NotRead, match="more than 4 bytes"):
        outside.read_file(path, most=4)
    with pytest.raises(NotRead, match="no table"):
        outside.csv_rows("x" * 200_000)


@pytest.fixture
def good(dog: Path, key: DeviceKey, tmp_path: Path) -> Path:
    """A handover as a zip file."""
    session(dog, "2026-11-10", key=key)
    return write_handover(dog, tmp_path, made=MADE, signer=key, with_names=True, zipped=True).path


def flipped_method(raw: bytes) -> bytes:
    """Every entry states a compression that nobody knows."""
    for mark, place in ((b"PK\x03\x04", 8), (b"PK\x01\x02", 10)):
        at = -1
        while (at := raw.find(mark, at + 1)) >= 0:
            raw = raw[: at + place] + struct.pack("<H", 97) + raw[at + place + 2 :]
    return raw


def locked(raw: bytes) -> bytes:
    """Every entry says that it is locked with a password."""
    for mark, place in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        at = -1
        while (at := raw.find(mark, at + 1)) >= 0:
            raw = raw[: at + place] + b"\x01\x00" + raw[at + place + 2 :]
    return raw


def rewritten(
    path: Path, change: Callable[[str, bytes], tuple[str | zipfile.ZipInfo, bytes]]
) -> None:
    with zipfile.ZipFile(path) as archive:
        files = {name: archive.read(name) for name in archive.namelist()}
    with zipfile.ZipFile(path, "w") as archive:
        for name, content in files.items():
            archive.writestr(*change(name, content))


def as_link(name: str, content: bytes) -> tuple[zipfile.ZipInfo, bytes]:
    info = zipfile.ZipInfo(name)
    info.external_attr = 0o120777 << 16
    return info, b"/etc/passwd"


ACTS: dict[str, Callable[[Path], object]] = {
    "unknown compression": lambda path: path.write_bytes(flipped_method(path.read_bytes())),
    "password": lambda path: path.write_bytes(locked(path.read_bytes())),
    "cut in half": lambda path: path.write_bytes(path.read_bytes()[: path.stat().st_size // 2]),
    "links in it": lambda path: rewritten(path, as_link),
    "leads out": lambda path: rewritten(path, lambda name, content: ("../" + name, content)),
    "backslash": lambda path: rewritten(path, lambda name, content: ("..\\" + name, content)),
    "deep JSON": lambda path: rewritten(
        path, lambda name, content: (name, b"[" * 90_000 if "json" in name else content)
    ),
    "revision without end": lambda path: rewritten(
        path,
        lambda name, content: (
            name,
            content.replace(b'"revision": 1', b'"revision": 1' + b"0" * 30),
        ),
    ),
    "revision 1e999": lambda path: rewritten(
        path, lambda name, content: (name, content.replace(b'"revision": 1', b'"revision": 1e999'))
    ),
    "revision as text": lambda path: rewritten(
        path,
        lambda name, content: (
            name,
            content.replace(b'"revision": 1', b'"revision": "' + b"9" * 40 + b'"'),
        ),
    ),
    "lone surrogate": lambda path: rewritten(
        path, lambda name, content: (name, content.replace(b'"Pip"', b'"\\ud800"'))
    ),
    "a cell without end": lambda path: rewritten(
        path, lambda name, content: (name, content.replace(b"finished", b"f" * 300_000))
    ),
}


@pytest.mark.parametrize("act", ACTS)
def test_a_bad_zip_is_told_and_the_others_are_listed(
    good: Path, act: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    practice = tmp_path / "practice"
    practice.mkdir()
    for name in ("bad.zip", "good.zip"):
        (practice / name).write_bytes(good.read_bytes())
    ACTS[act](practice / "bad.zip")
    capsys.readouterr()
    assert run(["caseload", str(practice)]) == Exit.BAD_INPUT
    told = capsys.readouterr()
    assert "bad.zip: left out: " in told.err
    assert "of 1 dog (1 handover)" in told.out
    assert run(["verify", str(practice / "bad.zip")]) == Exit.NOT_WHOLE


@pytest.mark.parametrize("harm", range(0, 3000, 111))
def test_a_flipped_zip_is_never_good(good: Path, harm: int) -> None:
    raw = bytearray(good.read_bytes())
    raw[harm * len(raw) // 3000] ^= 0x55
    good.write_bytes(raw)
    result = recheck(good)
    assert result.findings or unchanged(good)


def unchanged(path: Path) -> bool:
    """Whether the flip lies in what no reader looks at (a date, a version, an attribute)."""
    with zipfile.ZipFile(path) as archive:
        return archive.testzip() is None


def test_a_bomb_fills_no_memory(tmp_path: Path) -> None:
    path = tmp_path / "bomb.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        with archive.open("summary.json", "w", force_zip64=True) as stream:
            for _ in range(80):
                stream.write(b"\0" * (1 << 20))
        archive.writestr("sessions.csv", "")
    assert "more than 64 MiB" in recheck(path).findings[0]
    many = tmp_path / "many.zip"
    with zipfile.ZipFile(many, "w") as archive:
        for number in range(outside.MOST_FILES + 1):
            archive.writestr(str(number), b"")
    assert "more than 20000 files" in recheck(many).findings[0]


@pytest.mark.parametrize("odd", [fifo, endless, link, listening])
@pytest.mark.parametrize("place", ["journals/000009-x.jsonl", "more.txt", "summary.json"])
def test_a_folder_with_odd_things_in_it_is_refused_at_once(
    good: Path,
    tmp_path: Path,
    odd: Callable[[Path], None],
    place: str,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    unpacked = tmp_path / "unpacked"
    with zipfile.ZipFile(good) as archive:
        archive.extractall(unpacked)
    monkeypatch.chdir(unpacked)
    (unpacked / place).unlink(missing_ok=True)
    odd(unpacked / place)
    findings = recheck(unpacked).findings
    assert "cannot be read: " in findings[0]
    assert place in findings[0]


HEADERS: list[tuple[str, object]] = [
    ("plan.revision", 10**30),
    ("plan.revision", 1e300),
    ("dog.name", 7),
    ("dog.name", None),
    ("laser.mean_power_uw", -1),
    ("laser.mean_power_uw", 0.5),
    ("laser.beam_area_um2", 0),
    ("spots.0.hold_ns", 10**40),
    ("spots.0.hold_ns", "long"),
    ("spots.0.index", 3),
    ("spots.0.region", ["x"]),
    ("spots", {"a": 1}),
    ("spots", "none"),
    ("rehearsal", "no"),
    ("laser", []),
]


@pytest.mark.parametrize(("place", "value"), HEADERS)
def test_odd_values_in_a_log_are_told(
    good: Path, key: DeviceKey, tmp_path: Path, place: str, value: object
) -> None:
    unpacked = tmp_path / "unpacked"
    with zipfile.ZipFile(good) as archive:
        archive.extractall(unpacked)
    (path,) = (unpacked / "journals").glob("0*.jsonl")
    rewrite(path, place, value)
    (unpacked / "manifest.json").unlink()
    write_manifest(unpacked, key)
    assert recheck(unpacked).findings
    assert run(["verify", str(path)]) == Exit.NOT_WHOLE
    assert run(["tally", str(path)]) in set(Exit) - {Exit.FAILED}


def rewrite(path: Path, place: str, value: object) -> None:
    """Change a value of the first line and chain all lines anew."""
    total, out = GENESIS, b""
    for number, raw in enumerate(path.read_bytes().splitlines()):
        fields = json.loads(raw)
        if number == 0:
            item = fields["data"]
            *steps, last = [int(s) if s.isdigit() else s for s in place.split(".")]
            for step in steps:
                item = item[step]
            item[last] = value
        line, total = journal_lines.encode(
            seq=fields["seq"],
            stamp=Clock().stamp(),
            kind=fields["kind"],
            data=fields["data"],
            previous=total,
        )
        out += line
    path.write_bytes(out)
