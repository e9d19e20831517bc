"""Anyone can check a journal: scripts written from the page `coach/journal/format.md` alone agree
with the program, and signatures hold against the vectors of others."""

import hashlib
import subprocess
import sys
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from coach.journal.journal import journal_files, read_journal
from coach.journal.signing import DeviceKey, signature_holds
from coach.record.tally import tally_of
from coach.record.verify import verify

HERE = Path(__file__).parent
OLD = HERE.parent / "data" / "0.1.0" / "juniper" / "journals"


def script(name: str, path: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        ["bash", HERE / name, path], capture_output=True, text=True, check=False, timeout=60
    )


def agrees(path: Path) -> bool:
    """Whether the script finds what the program finds; what it says of the chain."""
    found = verify(path)
    done = script("verify_chain.sh", path)
    whole = found.damaged_line is None
    assert (done.returncode == 0) == whole, done.stdout
    if not whole:
        assert done.stdout.splitlines()[-1] == f"line {found.damaged_line} does not follow"
        return False
    spots = tally_of(read_journal(path).lines).spots
    given = {spot.index: spot.given_ns for spot in spots if spot.given_ns}
    rows = (line.split() for line in done.stdout.splitlines())
    assert {int(spot): int(given_ns) for spot, given_ns in rows} == given
    signed = script("verify_signature.sh", path)
    assert (signed.returncode == 0) == (found.signature == "good"), signed.stdout
    return True


@pytest.mark.long
def test_a_script_from_the_page_finds_the_chain_and_the_sums_of_real_journals() -> None:
    for path in journal_files(OLD):
        assert agrees(path)


def damaged(whole: bytes) -> Iterator[tuple[str, bytes]]:
    lines = whole.splitlines(keepends=True)
    yield "changed", whole.replace(b'"given_ns":30000000000', b'"given_ns":31000000000', 1)
    yield "a blank more", whole.replace(b'"seq":5,', b'"seq": 5,', 1)
    yield "left out", b"".join(lines[:6] + lines[7:])
    yield "moved", b"".join([*lines[:6], lines[7], lines[6], *lines[8:]])
    yield "put in twice", b"".join([*lines[:7], lines[6], *lines[7:]])


@pytest.mark.long
def test_a_script_from_the_page_finds_damage_where_the_program_does(tmp_path: Path) -> None:
    whole = journal_files(OLD)[0].read_bytes()
    for what, content in damaged(whole):
        path = tmp_path / "000001-20261128T092454-old-ways-r1.jsonl"
        path.write_bytes(content)
        assert not agrees(path), what


@pytest.mark.long
def test_a_forged_line_keeps_the_chain_and_loses_the_signature(tmp_path: Path) -> None:
    path = tmp_path / "000001-20261128T092454-old-ways-r1.jsonl"
    lines = journal_files(OLD)[0].read_bytes().splitlines()
    before = b"0" * 64
    forged = []
    for number, line in enumerate(lines, start=1):
        head = line[: -len(b',"sum":""}') - 64]
        if number == 2:
            head = head.replace(b"Robin", b"Rufus")
        before = hashlib.sha256(before + head).hexdigest().encode()
        forged.append(head + b',"sum":"' + before + b'"}\n')
    path.write_bytes(b"".join(forged))
    assert verify(path).signature == "bad"
    assert agrees(path)


@pytest.mark.long
def test_a_torn_end_counts_for_nothing(tmp_path: Path) -> None:
    path = tmp_path / "000005-20261128T092905-old-ways-r1.jsonl"
    path.write_bytes(journal_files(OLD)[4].read_bytes() + b'{"v":1,"seq":15,"mono_')
    assert agrees(path)


@pytest.mark.long
def test_all_ed25519_vectors_of_cryptography_hold(tmp_path: Path) -> None:
    """The 1,024 signatures of the package `cryptography-vectors` (sign.input of the authors of
    Ed25519): secret and public key, public key, message, signature and message, by colons."""
    done = subprocess.run(
        [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps", "cryptography-vectors"],
        cwd=tmp_path,
        capture_output=True,
        check=False,
        timeout=300,
    )
    wheels = list(tmp_path.glob("*.whl"))
    if done.returncode or not wheels:
        pytest.skip("a package index that has cryptography-vectors")
    with zipfile.ZipFile(wheels[0]) as wheel:
        text = wheel.read("cryptography_vectors/asymmetric/Ed25519/sign.input").decode("ascii")
    rows = [line.split(":") for line in text.splitlines()]
    assert len(rows) == 1024
    for secret, public, message, signed, *_ in rows:
        key = DeviceKey(bytes.fromhex(secret)[:32])
        content, signature = bytes.fromhex(message), signed[:128]
        assert key.public_key == public
        assert key.sign(content) == signature
        assert signature_holds(public_key=public, signature=signature, message=content)
        other = bytes([bytes.fromhex(signature)[0] ^ 1]) + bytes.fromhex(signature)[1:]
        assert not signature_holds(public_key=public, signature=other.hex(), message=content)
