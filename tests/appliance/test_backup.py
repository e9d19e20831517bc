"""The sealed backup: everything back as it was, opened by nobody else, nothing ever replaced."""

import hashlib
import shutil
import subprocess
from pathlib import Path

import pyrage
import pytest

from coach.appliance import backup
from coach.appliance.backup import earlier_keys
from coach.cli import run
from coach.cli.exits import Exit
from coach.journal.disk import DISK
from coach.journal.signing import DeviceKey, device_key
from coach.paths import device_key_file, dog_folder, state_folder
from coach.sealing import NotSealed, unseal
from tests.handover.dogs import PLAN, session

PHRASE = "four words at the bowl"


@pytest.fixture(autouse=True)
def cheap(monkeypatch: pytest.MonkeyPatch, own_world: Path) -> None:
    """A home of two invented dogs."""
    key = device_key(device_key_file())
    for name in ("Pip", "Rex"):
        folder = dog_folder(name)
        folder.mkdir(parents=True)
        (folder / "plan.toml").write_text(PLAN.replace('"Juniper"', f'"{name}"'))
        session(folder, "2026-11-10", dog=name, key=key)
        session(folder, "2026-11-12", dog=name, key=key)
    (dog_folder("Pip") / "old-plans").mkdir()
    (dog_folder("Pip") / "old-plans" / "until-x.toml").write_text(PLAN)
    (dog_folder("Pip") / "summary").mkdir()
    (dog_folder("Pip") / "summary" / "000000.json").write_text("derived")
    (state_folder() / "household.toml").write_text("helpers = []\n")


@pytest.fixture
def phrase(tmp_path: Path) -> list[str]:
    path = tmp_path / "phrase"
    path.write_text(PHRASE + "\n")
    return ["--passphrase-file", str(path)]


@pytest.fixture(scope="module")
def identity() -> pyrage.x25519.Identity:
    return pyrage.x25519.Identity.generate()


@pytest.fixture
def seals(identity: pyrage.x25519.Identity) -> list[str]:
    """A key costs nothing; a passphrase is made to cost a second and more."""
    return ["--seal-to", str(identity.to_public())]


@pytest.fixture
def opens(identity: pyrage.x25519.Identity, tmp_path: Path) -> list[str]:
    path = tmp_path / "opens"
    path.write_text(str(identity))
    return ["--identity", str(path)]


def home() -> dict[str, str]:
    """Every file that cannot be made again, with its sum."""
    return {
        path.relative_to(state_folder()).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in state_folder().rglob("*")
        if path.is_file() and path.name not in (".lock", "000000.json", "earlier-keys.json")
    }


def kept(to: Path) -> Path:
    (path,) = to.iterdir()
    return path


def test_all_comes_back_and_nothing_is_replaced(
    tmp_path: Path, seals: list[str], opens: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    before = home()
    key = before.pop("device-key.pem")
    old = device_key(device_key_file()).public_key
    to = tmp_path / "stick"
    assert run(["backup", "--to", str(to), *seals]) == Exit.DONE
    path = kept(to)
    assert b"Pip" not in path.read_bytes()
    assert run(["restore", str(path), *opens]) == Exit.BAD_INPUT
    assert "nothing is replaced" in capsys.readouterr().err
    assert home() == {**before, "device-key.pem": key}
    shutil.rmtree(state_folder())
    assert run(["restore", str(path), *opens]) == Exit.DONE
    assert home() == before
    assert earlier_keys(state_folder()) == (old,)
    assert old in capsys.readouterr().out
    # A new device, and logs of the old one: both are known here.
    assert run(["verify"]) == Exit.DONE
    new = device_key(device_key_file())
    assert new.public_key != old
    session(dog_folder("Pip"), "2026-11-20", key=new)
    assert run(["verify"]) == Exit.DONE
    session(dog_folder("Pip"), "2026-11-21", key=DeviceKey(b"\7" * 32))
    assert run(["verify"]) == Exit.NOT_WHOLE


def test_the_devices_key_goes_along_only_when_asked(
    tmp_path: Path, seals: list[str], opens: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    before = home()
    to = tmp_path / "stick"
    assert run(["backup", "--to", str(to), "--with-device-key", *seals]) == Exit.DONE
    shutil.rmtree(state_folder())
    assert run(["restore", str(kept(to)), *opens]) == Exit.DONE
    assert home() == before
    assert "The old one must stop" in capsys.readouterr().out
    assert run(["verify"]) == Exit.DONE


def test_a_public_key_seals_and_its_private_key_opens(
    tmp_path: Path, seals: list[str], opens: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    mine, other = (pyrage.x25519.Identity.generate() for _ in range(2))
    to = tmp_path / "stick"
    assert run(["backup", "--to", str(to), "--seal-to", str(mine.to_public())]) == Exit.DONE
    shutil.rmtree(state_folder())
    for identity, code in ((other, Exit.BAD_INPUT), (mine, Exit.DONE)):
        file = tmp_path / "identity"
        file.write_text(f"# made by age-keygen\n{identity}\n")
        assert run(["restore", str(kept(to)), "--identity", str(file)]) == code
    assert (dog_folder("Rex") / "plan.toml").exists()
    assert run(["backup", "--to", str(to), "--seal-to", "age1nonsense"]) == Exit.BAD_INPUT
    assert "age-keygen" in capsys.readouterr().err


@pytest.mark.long
def test_wrong_words_short_words_and_damage_are_told(
    tmp_path: Path, phrase: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    to = tmp_path / "stick"
    assert run(["backup", "--to", str(to), *phrase]) == Exit.DONE
    path = kept(to)
    before = home()
    shutil.rmtree(state_folder())
    assert run(["restore", str(path), *phrase]) == Exit.DONE
    assert home() == {k: v for k, v in before.items() if k != "device-key.pem"}
    shutil.rmtree(state_folder())
    (tmp_path / "wrong").write_text("other words at the bowl")
    wrong = ["--passphrase-file", str(tmp_path / "wrong")]
    assert run(["restore", str(path), *wrong]) == Exit.BAD_INPUT
    assert "does not open" in capsys.readouterr().err
    raw = bytearray(path.read_bytes())
    raw[len(raw) // 2] ^= 1
    path.write_bytes(raw)
    assert run(["restore", str(path), *phrase]) == Exit.BAD_INPUT
    path.write_bytes(b"?")
    assert run(["restore", str(path), *phrase]) == Exit.BAD_INPUT
    assert run(["restore", str(tmp_path / "none"), *phrase]) == Exit.BAD_INPUT
    assert not (state_folder() / "dogs").exists()
    (tmp_path / "short").write_text("short")
    short = ["--passphrase-file", str(tmp_path / "short")]
    assert run(["backup", "--to", str(to), *short]) == Exit.BAD_INPUT
    assert "12 or more" in capsys.readouterr().err
    assert run(["backup", "--to", str(to)]) == Exit.BAD_INPUT


def test_what_reads_back_otherwise_is_not_left_there(
    tmp_path: Path, seals: list[str], opens: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    to = tmp_path / "stick"
    real = backup._read

    def rotten(path: Path) -> bytes:
        content = real(path)
        return content[:-1] + b"?" if path.suffix == ".part" else content

    monkeypatch.setattr(backup, "_read", rotten)
    assert run(["backup", "--to", str(to), *seals]) == Exit.BAD_INPUT
    assert list(to.iterdir()) == []


def test_not_in_a_session_and_never_over_another(
    tmp_path: Path, seals: list[str], opens: list[str]
) -> None:
    to = tmp_path / "stick"
    lock = DISK.lock(dog_folder("Pip") / "journals", "now")
    assert run(["backup", "--to", str(to), *seals]) == Exit.BAD_INPUT
    DISK.close(lock)
    for _ in range(2):
        assert run(["backup", "--to", str(to), *seals]) == Exit.DONE
    assert len(list(to.iterdir())) == 2


@pytest.mark.parametrize(
    "name", ["../outside", "/etc/outside", "dogs/pip/../../outside", "dogs/pip/x.sh", "dogs/pip"]
)
def test_a_backup_that_somebody_else_made_leads_nowhere(
    tmp_path: Path, identity: pyrage.x25519.Identity, opens: list[str], name: str
) -> None:
    digest = hashlib.sha256(b"x").hexdigest()
    made = {"backup": 1, "files": {name: {"bytes": 1, "sha256": digest}}}
    path = tmp_path / "evil.tar.gz.age"
    packed = backup._packed(made, {name: b"x"})
    path.write_bytes(pyrage.encrypt(packed, [identity.to_public()]))
    shutil.rmtree(state_folder())
    assert run(["restore", str(path), *opens]) == Exit.BAD_INPUT
    assert not list(tmp_path.rglob("outside"))
    assert not (state_folder() / "dogs").exists()


def test_a_handover_travels_sealed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("coach.handover.report.report_pdf", lambda _: b"%PDF")
    practice = pyrage.x25519.Identity.generate()
    to = tmp_path / "mail"
    words = ["handover", "Pip", "--to", str(to), "--seal-to", str(practice.to_public())]
    assert run(words) == Exit.DONE
    path = kept(to)
    assert path.name.endswith(".zip.age")
    opened = tmp_path / "opened.zip"
    opened.write_bytes(unseal(path.read_bytes(), identity=str(practice)))
    assert run(["verify", str(opened)]) == Exit.DONE
    with pytest.raises(NotSealed):
        unseal(path.read_bytes(), identity=str(pyrage.x25519.Identity.generate()))
    assert run([*words[:4], "--link", "--seal-to", "age1x"]) == Exit.BAD_INPUT


@pytest.mark.long
@pytest.mark.skipif(shutil.which("age") is None, reason="Debian's age is not installed")
def test_debians_age_opens_what_is_sealed_here(tmp_path: Path) -> None:
    """The referee: another implementation of the format (apt-get install age)."""
    file = tmp_path / "identity"
    subprocess.run(["age-keygen", "-o", str(file)], check=True, capture_output=True)
    public = subprocess.run(
        ["age-keygen", "-y", str(file)], check=True, capture_output=True, text=True
    ).stdout.strip()
    to = tmp_path / "stick"
    assert run(["backup", "--to", str(to), "--seal-to", public]) == Exit.DONE
    opened = subprocess.run(
        ["age", "-d", "-i", str(file), str(kept(to))], check=True, capture_output=True
    ).stdout
    _made, files = backup._unpacked(opened)
    assert set(files) == set(home()) - {"device-key.pem"}
    # And what it has sealed opens here.
    sealed = tmp_path / "theirs.age"
    subprocess.run(["age", "-r", public, "-o", str(sealed)], input=opened, check=True)
    shutil.rmtree(state_folder())
    assert run(["restore", str(sealed), "--identity", str(file)]) == Exit.DONE
