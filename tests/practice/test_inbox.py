"""What comes in: verified, filed by dog, told; sealed or not; and what goes out again."""

import csv
import datetime
import email.message
import io
import json
import shutil
import subprocess
import threading
import zipfile
from pathlib import Path

import pyrage
import pytest
from fhir.resources.R4B.bundle import Bundle

from coach import __version__
from coach.cli import run
from coach.cli.exits import Exit
from coach.handover.build_info import Made
from coach.handover.folder import write_handover
from coach.journal.signing import DeviceKey
from coach.practice.call_list import call_list
from coach.practice.inbox import Inbox, arrival_line
from coach.practice.rules import house_rules
from coach.practice.sealed import make_key, practice_key_file
from tests.handover.conftest import plain_report
from tests.handover.weeks import weeks
from tests.practice.many import TODAY

__all__ = ["plain_report"]
NOW = datetime.datetime(2026, 11, 25, 12, tzinfo=datetime.UTC)
AT = f"{TODAY}T10:00:00+01:00"
TODAYS = ["--today", TODAY.isoformat()]


@pytest.fixture
def handover(tmp_path: Path, plain_report: None) -> Path:
    """A zipped handover of an invented dog."""
    key = DeviceKey(bytes(32))
    weeks(tmp_path / "dog", key)
    made = Made(at=AT, program=__version__)
    done = write_handover(
        tmp_path / "dog", tmp_path / "out", made=made, signer=key, with_names=True, zipped=True
    )
    return done.path


@pytest.fixture
def inbox(tmp_path: Path, handover: Path) -> Path:
    """A folder with one handover that came."""
    folder = tmp_path / "inbox"
    folder.mkdir()
    shutil.copy(handover, folder)
    return folder


def names(folder: Path) -> list[str]:
    return [dog.dog for dog in call_list(folder, TODAY, house_rules()).dogs]


def test_a_new_handover_is_verified_filed_by_dog_and_listed(
    inbox: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "practice"
    came = next(inbox.iterdir()).name
    before = (inbox / came).read_bytes()
    words = ["caseload", str(folder), "--inbox", str(inbox), *TODAYS]
    assert run(words) == Exit.DONE
    out = capsys.readouterr().out
    assert f"{came}: Barnaby, every figure agrees: {folder}/barnaby-3b6a27bc/{came}" in out
    assert "of 1 dog (1 handover)" in out
    # It is filed once, and the inbox is left as it was.
    assert run(words) == Exit.DONE
    assert "every figure agrees" not in capsys.readouterr().out
    assert (inbox / came).read_bytes() == before
    assert len(list(folder.rglob("*.zip"))) == 1
    # The same under another name is the same; a line cut in half in the list only asks again.
    shutil.copy(inbox / came, inbox / "again.zip")
    assert Inbox(inbox, folder).look(NOW, settled=True) == []
    (folder / "inbox.jsonl").write_text('{"sha256": "')
    assert len(Inbox(inbox, folder).look(NOW, settled=True)) == 1
    assert run(["caseload", str(folder), "--watch"]) == Exit.BAD_INPUT
    assert run(["caseload", str(folder), "--inbox", str(tmp_path / "no")]) == Exit.BAD_INPUT


def test_what_is_wrong_is_told_and_not_filed(
    inbox: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    good = next(inbox.iterdir())
    with zipfile.ZipFile(good) as archive, zipfile.ZipFile(inbox / "forged.zip", "w") as forged:
        for info in archive.infolist():
            content = archive.read(info)
            if info.filename == "sessions.csv":
                content = content.replace(b",red,", b",fine,")
            forged.writestr(info.filename, content)
    good.unlink()
    (inbox / "noise.zip").write_bytes(b"PK no zip")
    (inbox / "notes.txt").write_text("not meant")
    (inbox / "away.zip").symlink_to(tmp_path / "out")
    (inbox / "sealed.zip.age").write_bytes(b"age-encryption.org/v1\nnoise")
    mail = email.message.EmailMessage()
    mail["Subject"] = "photos"
    (inbox / "photos.eml").write_bytes(mail.as_bytes())
    folder = tmp_path / "practice"
    assert run(["caseload", str(folder), "--inbox", str(inbox)]) == Exit.NOT_WHOLE
    told = capsys.readouterr()
    assert "forged.zip (Barnaby): NOT FILED" in told.err
    assert "noise.zip: NOT FILED: is no handover" in told.err
    assert "sealed.zip.age: NOT FILED" in told.err
    assert "no key of the practice here" in told.err
    assert told.err.count("NOT FILED") == 3
    assert "No handover was found." in told.out


def test_a_file_that_is_still_being_written_is_left_for_the_next_look(
    inbox: Path, tmp_path: Path
) -> None:
    path = next(inbox.iterdir())
    whole = path.read_bytes()
    folder = tmp_path / "practice"
    folder.mkdir()
    watched = Inbox(inbox, folder)
    for part in (1000, 5000, len(whole)):
        path.write_bytes(whole[:part])
        assert watched.look(NOW) == []
    (arrival,) = watched.look(NOW)
    assert (arrival.dog, arrival.filed is None) == ("Barnaby", False)
    assert watched.look(NOW) == []


def test_mails_and_folders_are_looked_into(inbox: Path, tmp_path: Path) -> None:
    path = next(inbox.iterdir())
    mail = email.message.EmailMessage()
    mail["Subject"] = "Barnaby"
    mail.set_content("see there")
    content = path.read_bytes()
    mail.add_attachment(content, maintype="application", subtype="zip", filename="../../b.zip")
    path.unlink()
    (inbox / "mail.eml").write_bytes(mail.as_bytes())
    shutil.unpack_archive(tmp_path / "out" / path.name, inbox / "a folder")
    folder = tmp_path / "practice"
    folder.mkdir()
    arrivals = Inbox(inbox, folder).look(NOW, settled=True)
    assert [arrival.source for arrival in arrivals] == ["a folder", "mail.eml: b.zip"]
    assert [arrival.filed for arrival in arrivals] == [
        folder / "barnaby-3b6a27bc" / "a folder",
        folder / "barnaby-3b6a27bc" / "b.zip",
    ]
    assert names(folder) == ["Barnaby"]


def test_a_sealed_handover_is_opened_with_the_key_of_the_practice_and_stays_sealed(
    handover: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["caseload", "--make-key"]) == Exit.DONE
    public = capsys.readouterr().out.strip()
    assert public.startswith("age1")
    assert practice_key_file().stat().st_mode & 0o777 == 0o600
    # The second time it is the same key.
    assert make_key() == public
    recipient = pyrage.x25519.Recipient.from_str(public)
    inbox, folder = tmp_path / "in", tmp_path / "practice"
    inbox.mkdir()
    sealed = pyrage.encrypt(handover.read_bytes(), [recipient])
    (inbox / "b.zip.age").write_bytes(sealed)
    other = pyrage.x25519.Identity.generate().to_public()
    (inbox / "other.zip.age").write_bytes(pyrage.encrypt(handover.read_bytes(), [other]))
    assert run(["caseload", str(folder), "--inbox", str(inbox), *TODAYS]) == Exit.NOT_WHOLE
    told = capsys.readouterr()
    assert "Call today" in told.out
    assert "Barnaby" in told.out
    assert "other.zip.age: NOT FILED" in told.err
    assert "is it sealed to the key of this practice" in told.err
    filed = folder / "barnaby-3b6a27bc" / "b.zip.age"
    assert filed.read_bytes() == sealed
    # Cut or flipped on the way: told, and the list goes on.
    for harmed in (sealed[:-20], sealed[:300] + b"\0" + sealed[301:], b""):
        filed.write_bytes(harmed)
        found = call_list(folder, TODAY, house_rules())
        assert found.dogs == ()
        assert "left out" in found.remarks[0]
    practice_key_file().write_text("no key")
    filed.write_bytes(sealed)
    assert "found no private key" in call_list(folder, TODAY, house_rules()).remarks[0]


@pytest.mark.long
@pytest.mark.skipif(shutil.which("age") is None, reason="age is not installed")
def test_what_debians_age_seals_is_opened(handover: Path, tmp_path: Path) -> None:
    """The referee seals, to our key; and opens with our key what we would open."""
    folder = tmp_path / "practice"
    folder.mkdir()
    sealed = folder / "b.zip.age"
    subprocess.run(["age", "-r", make_key(), "-o", sealed, handover], check=True)
    assert names(folder) == ["Barnaby"]
    words = ["age", "-d", "-i", str(practice_key_file()), str(sealed)]
    opened = subprocess.run(words, capture_output=True, check=True).stdout
    assert opened == handover.read_bytes()


def test_the_inbox_is_watched_until_ctrl_c(
    inbox: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    looks = threading.Semaphore(3)

    def next_look(_seconds: float) -> None:
        if not looks.acquire(blocking=False):
            raise KeyboardInterrupt

    monkeypatch.setattr("coach.cli.practice_inbox.time.sleep", next_look)
    words = ["caseload", str(tmp_path / "practice"), "--inbox", str(inbox), "--watch", *TODAYS]
    assert run(words) == Exit.DONE
    out = capsys.readouterr().out
    # Listed once without, then once with the dog; then nothing came.
    assert out.index("No handover was found.") < out.index("every figure agrees")
    assert out.count("Call today") == 1
    assert out.endswith("No longer watched.\n")


def test_what_a_source_is_called_is_made_safe(inbox: Path, tmp_path: Path) -> None:
    next(inbox.iterdir()).rename(inbox / "\x1b[31mred.zip")
    folder = tmp_path / "practice"
    folder.mkdir()
    (arrival,) = Inbox(inbox, folder).look(NOW, settled=True)
    assert "\x1b" not in arrival_line(arrival)


def test_an_export_holds_a_bundle_and_a_note_of_each_dog(
    handover: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder, to = handover.parent, tmp_path / "export"
    assert run(["caseload", str(folder), "--export", str(to), *TODAYS]) == Exit.DONE
    assert "(1 dog)" in capsys.readouterr().out
    (bundle,) = to.glob("*.fhir.json")
    assert bundle.name == "barnaby-3b6a27bc.fhir.json"
    # HL7 FHIR R4B, the same as R4 in what is used: the models of another project.
    Bundle.model_validate_json(bundle.read_bytes())
    entries = json.loads(bundle.read_bytes())["entry"]
    kinds = [entry["resource"]["resourceType"] for entry in entries]
    assert kinds.count("Patient") == 1
    assert kinds.count("Procedure") == 9
    raw = (to / "visit-notes.csv").read_bytes()
    (note,) = csv.DictReader(io.StringIO(raw.decode(), newline=""), strict=True)
    assert "2026-11-19: Got up by himself afterwards." in note["subjective"]
    assert "1528 J of 1872 J, coached, not measured" in note["objective"]
    assert (note["assessment"], note["plan_of_visit"]) == ("", "")
    # Never written over; what cannot be exported is told and the others are.
    assert run(["caseload", str(folder), "--export", str(to), *TODAYS]) == Exit.BAD_INPUT
    (folder / "old").mkdir()
    with zipfile.ZipFile(handover) as archive:
        summary = json.loads(archive.read("summary.json"))
        (folder / "old" / "sessions.csv").write_bytes(archive.read("sessions.csv"))
    del summary["totals"]
    summary["dog"]["name"] = "Old"
    (folder / "old" / "summary.json").write_text(json.dumps(summary))
    again = tmp_path / "again"
    assert run(["caseload", str(folder), "--export", str(again), *TODAYS]) == Exit.BAD_INPUT
    assert "Old: not exported" in capsys.readouterr().err
    assert len(list(again.glob("barnaby*"))) == 1
