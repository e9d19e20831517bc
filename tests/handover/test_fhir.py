"""The FHIR bundle held to the models of an independent library (R4B)."""

import json
from pathlib import Path
from typing import Any

import pytest
from fhir.resources.R4B.bundle import Bundle
from ucumvert import parse_ucum

from coach.handover.build_info import Made
from coach.handover.folder import write_handover
from coach.handover.recheck import recheck
from coach.journal.diary_entries import AfterSession, Correction, FunctionScore
from coach.journal.journal import Journal
from coach.journal.signing import DeviceKey
from tests.handover.conftest import MADE
from tests.handover.dogs import HOLDS_S, said, session, wall
from tests.worlds import Clock, QuickDisk, header_for, spots_for

pytestmark = pytest.mark.usefixtures("plain_report")


def refused_at_the_questions(folder: Path, day: str, key: DeviceKey) -> None:
    """A session that ended before it began: worse after last time, the vet was not asked."""
    spots = spots_for(HOLDS_S, move_s=3)
    journal = Journal.create(
        folder / "journals",
        header=header_for(spots),
        stamp=Clock(wall=wall(day)).stamp,
        disk=QuickDisk(),
    )
    asked = {"at_ns": 0, "point": "worse", "answer": "yes", "outcome": "vet_not_asked"}
    journal.append("whats_new", asked)
    journal.append("session_stopped", {"at_ns": 0, "reason": "not_ready"})
    journal.finish({"given_ns": [0] * len(spots)}, signer=key)
    journal.close()


@pytest.mark.filterwarnings("default")
def test_each_session_is_a_procedure_and_what_was_given_an_observation(
    dog: Path, key: DeviceKey, tmp_path: Path
) -> None:
    one = session(dog, "2026-11-10", key=key, helper="Alex")
    signs = [{"spot": 1, "signals": ["lip_licking", "yawning"], "outcome": "went_on"}]
    session(dog, "2026-11-11", key=key, stop_after=2, signals=signs)
    other = session(dog, "2026-11-12", key=key)
    refused_at_the_questions(dog, "2026-11-13", key)
    said(
        dog,
        AfterSession(session=one.stem, skin="warm", tolerance_0_10=7),
        FunctionScore(score_0_10=6),
        Correction(session=other.stem, what="not_this_dog"),
    )
    made = Made(at=MADE.at, program=MADE.program, fhir=True)
    folder = write_handover(
        dog, tmp_path, made=made, signer=key, with_names=True, zipped=False
    ).path
    text = (folder / "fhir.json").read_text(encoding="utf-8")
    bundle: Any = Bundle.model_validate_json(text)
    resources = [entry.resource for entry in bundle.entry]
    assert resources[0].extension[0].extension[0].valueCodeableConcept.text == "dog"
    procedures = [r for r in resources if r.get_resource_type() == "Procedure"]
    statuses = ["completed", "stopped", "entered-in-error", "not-done"]
    assert [p.status for p in procedures] == statuses
    assert procedures[0].performer[0].actor.display == "Alex"
    assert procedures[1].statusReason.text == "dog unhappy"
    kinds = {r.get_resource_type() for r in resources}
    # Assessment and plan are the vet's.
    assert kinds == {"Patient", "Device", "ServiceRequest", "Procedure", "Observation"}
    (plan,) = [r for r in resources if r.get_resource_type() == "ServiceRequest"]
    assert (plan.intent, plan.identifier[0].value) == ("order", "demo revision 1")
    (laser,) = [r for r in resources if r.get_resource_type() == "Device"]
    assert laser.deviceName[0].name == "invented laser"
    assert laser.property[0].valueQuantity[0].code == "mW"
    (seen,) = [r for r in resources if getattr(r, "valueString", None) == "lip licking, yawning"]
    assert seen.get_resource_type() == "Observation"
    refused = procedures[3]
    assert refused.statusReason.text == "refused at the questions (worse: yes, vet not asked)"
    urls = [entry.fullUrl for entry in bundle.entry]
    assert len(set(urls)) == len(urls)
    raw = json.loads(text)["entry"]
    for entry in raw[1:]:
        resource = entry["resource"]
        whose = resource.get("subject") or resource["patient"]
        more = ("partOf", "basedOn", "usedReference")
        for found in (whose, *(one for name in more for one in resource.get(name, ()))):
            assert found["reference"] in urls
    # By side: session 1 gave 70 s, session 2 30 s; 0.5 W; so 50 J of 70 J prescribed.
    places = [r["resource"] for r in raw if "bodySite" in r["resource"]]
    for place in places:
        values = [part["valueQuantity"]["value"] for part in place["component"]]
        assert values == [70, 50]
    units = {part["valueQuantity"]["code"] for place in places for part in place["component"]}
    for unit in sorted(units):
        parse_ucum(unit)
    assert recheck(folder).findings == ()
    (folder / "fhir.json").write_text(text.replace('"value": 50', '"value": 60', 1))
    assert any("fhir.json: entry[" in found for found in recheck(folder).findings)
