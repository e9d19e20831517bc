"""For practice systems: a FHIR R4 bundle a dog, and a visit note a dog as CSV (SOAP).

Subjective is what the household says, objective what the logs count. Assessment and plan are the
vet's and stay empty: nothing here fills them in.
"""

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from coach import paths
from coach.handover.fhir import fhir_bundle
from coach.handover.folder import SUMMARY, json_bytes
from coach.handover.outside import NotRead, json_of
from coach.handover.tables import harmless
from coach.practice.call_list import CallList, Dog
from coach.practice.call_text import reason_line, shown
from coach.practice.files import Place, bytes_of

VISIT_NOTES = "visit-notes.csv"
COLUMNS = (
    "dog",
    "plan",
    "plan_revision",
    "owner",
    "phone",
    "prescriber",
    "handover_made",
    "first_day",
    "last_day",
    "subjective",
    "objective",
    "assessment",
    "plan_of_visit",
)
MOST_WORDS = 10


def write_export(found: CallList, folder: Path, to: Path) -> tuple[int, list[str]]:
    """Write a bundle a dog and the visit notes into the new folder ``to``.

    Gives how many dogs, and what could not be exported. Raises FileExistsError, OSError.
    """
    to.mkdir(mode=0o700, parents=True)
    remarks: list[str] = []
    notes: list[Mapping[str, str]] = []
    names: set[str] = set()
    for dog in found.dogs:
        try:
            summary = _summary(folder, dog)
            name = _name(dog, names)
            (to / name).write_bytes(json_bytes(fhir_bundle(summary)))
            notes.append(_note(dog, summary))
        except (NotRead, OSError, KeyError, TypeError, ValueError, AttributeError) as error:
            remarks.append(f"{shown(dog.dog)}: not exported: {error!r}"[:300])
    (to / VISIT_NOTES).write_bytes(notes_csv(notes))
    return len(notes), remarks


def _summary(folder: Path, dog: Dog) -> Any:
    path = folder / dog.handover
    if not path.exists():
        # The folder itself is the handover.
        path = folder
    return json_of(bytes_of(Place(name=dog.handover, path=path, state="", came_ns=0))[SUMMARY])


def _name(dog: Dog, names: set[str]) -> str:
    """``pip-3b6a27bc.fhir.json``; a number where two dogs would have one name."""
    stem = f"{paths.dog_folder(dog.dog).name}-{dog.device[:8] or 'unsigned'}"
    name, number = f"{stem}.fhir.json", 1
    while name in names:
        number += 1
        name = f"{stem}-{number}.fhir.json"
    names.add(name)
    return name


def _note(dog: Dog, summary: Any) -> dict[str, str]:
    return {
        "dog": dog.dog,
        "plan": dog.plan,
        "plan_revision": str(dog.plan_revision),
        "owner": dog.owner,
        "phone": dog.phone,
        "prescriber": dog.prescriber,
        "handover_made": dog.made_at,
        "first_day": str(summary.get("first_day") or ""),
        "last_day": str(summary.get("last_day") or ""),
        "subjective": "; ".join(_subjective(summary)),
        "objective": "; ".join(_objective(dog, summary)),
        "assessment": "",
        "plan_of_visit": "",
    }


def _subjective(summary: Any) -> Iterable[str]:
    """What the household said: its words and scores, the newest last."""
    for session in (summary.get("sessions") or [])[-MOST_WORDS:]:
        if session.get("words"):
            yield f"{str(session['opened'])[:10]}: {session['words']}"
    scores = [one for one in summary.get("scores") or [] if one.get("score_0_10") is not None]
    if scores:
        values = ", ".join(f"{one['score_0_10']} ({str(one['at'])[:10]})" for one in scores[-5:])
        yield f"function 0 to 10, 10 is best: {values}"


def _objective(dog: Dog, summary: Any) -> Iterable[str]:
    """What the logs count, and what the list found."""
    totals = summary["totals"]
    yield (
        f"{dog.sessions} sessions, {dog.behind} behind and {dog.extra} extra as of today; "
        f"{totals['counted_j']:g} J of {totals['prescribed_j']:g} J, coached, not measured"
    )
    for place in summary.get("places") or []:
        given, ordered = place["counted_j_cm2_a_spot"], place["prescribed_j_cm2_a_spot"]
        if given is not None and ordered is not None:
            yield f"{place['term']} {place['side']}: {given:g} of {ordered:g} J/cm2 a spot"
    tolerance = [
        one["tolerance_0_10"]
        for one in summary.get("sessions") or []
        if one.get("tolerance_0_10") is not None
    ]
    if tolerance:
        yield f"tolerance 0 to 10, 10 wholly at ease: {', '.join(map(str, tolerance[-8:]))}"
    yield from map(reason_line, dog.reasons)


def notes_csv(notes: Sequence[Mapping[str, str]]) -> bytes:
    """RFC 4180, UTF-8; no cell begins like a formula."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for note in notes:
        writer.writerow([harmless(shown(note[name])) for name in COLUMNS])
    return text.getvalue().encode("utf-8")
