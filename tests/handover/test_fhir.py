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
from coach.journal.signing import DeviceKey
from tests.handover.conftest import MADE
from tests.handover.dogs import said, session

pytestmark = pytest.mark.usefixtures("plain_report")


@pytest.mark.filterwarnings("default")
def test_each_session_is_a_procedure_and_what_was_given_an_observation(
    dog: Path, key: DeviceKey, tmp_path: Path
) -> None:
    one = session(dog, "2026-11-10", key=key, helper="Alex")
    session(dog, "2026-11-11", key=key, stop_after=2)
    other = session(dog, "2026-11-12", key=key)
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
    assert [p.status for p in procedures] == ["completed", "stopped", "entered-in-error"]
    assert procedures[0].performer[0].actor.display == "Alex"
    assert procedures[1].statusReason.text == "dog unhappy"
    kinds = {r.get_resource_type() for r in resources}
    # Assessment and plan are the vet's.
    assert kinds == {"Patient", "Procedure", "Observation"}
    urls = [entry.fullUrl for entry in bundle.entry]
    assert len(set(urls)) == len(urls)
    raw = json.loads(text)["entry"]
    for entry in raw[1:]:
        resource = entry["resource"]
        for found in (resource["subject"], *resource.get("partOf", ())):
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
