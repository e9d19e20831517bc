"""Whether the logs of a dog are all there and signed by one device, before and after a handover.

What a device signs when it hands over is what lies on its disk. So whatever there was not written
by it, or has changed since, is told to the owner before, and to whoever checks the handover after.
"""

from pathlib import Path

from coach.journal.journal import log_files
from coach.record.verify import Verification, linked, verify, verify_folder

SIGNATURES = {
    "bad": "THE SIGNATURE DOES NOT HOLD",
    "other_key": "not signed by this device",
}
UNSIGNED = "not signed by this device: it was never closed"


def verify_logs(folder: Path, *, key: str | None, whole: bool) -> list[Verification]:
    """Check every log in ``folder`` by the key (hex) of the device.

    Without ``whole`` it begins with some day, and the sessions before may be missing.
    """
    paths = log_files(folder)
    # The one before the first need not be here.
    first = [] if whole else paths[:1]
    results = [verify(path, key=key) for path in first]
    results += [linked(verify(path, key=key)) for path in paths[len(first) :]]
    return verify_folder(folder, results, key=key, whole=whole)


def told(result: Verification) -> list[str]:
    """What is wrong with a log, one sentence each."""
    found = list(result.findings)
    if result.signature in SIGNATURES:
        found.append(SIGNATURES[result.signature])
    if result.verdict == "not_closed":
        found.append(UNSIGNED)
    return found


def doubts(folder: Path, *, key: str) -> list[str]:
    """What the owner should know before this device signs the logs in ``folder``."""
    results = verify_logs(folder, key=key, whole=True)
    return [f"{result.path.name}: {text}" for result in results for text in told(result)]
