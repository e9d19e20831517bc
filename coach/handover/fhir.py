"""The summary as a FHIR R4 bundle: patient, laser, plan, a procedure a session, observations. Pure.

HL7 FHIR R4 (4.0.1): Patient with the extension patient-animal, Device (the laser as stated),
ServiceRequest (the prescriber's plan), Procedure, Observation. The species
code is that of the example of that extension (from memory). Codes of practices differ, so
everything else is said in words, with units by UCUM. Assessment and plan are the vet's: there is
no Condition, no CarePlan and no conclusion in here.
"""

import uuid
from typing import Any

from coach.handover.summary_json import LaserJson, PlanJson, SessionJson, SummaryJson

UCUM = "http://unitsofmeasure.org"
ANIMAL = "http://hl7.org/fhir/StructureDefinition/patient-animal"
SPECIES = "http://hl7.org/fhir/animal-species"
SPACE = uuid.UUID("6f0f1a52-53f0-5f0c-9f6c-1c0d5a6f7d11")
PROCEDURE = "laser session at home (photobiomodulation), coached by a timer"


def fhir_bundle(summary: SummaryJson) -> dict[str, Any]:
    """A Bundle of type collection; the same summary gives the same bundle."""
    patient = {
        "resourceType": "Patient",
        "extension": [
            {
                "url": ANIMAL,
                "extension": [
                    {
                        "url": "species",
                        "valueCodeableConcept": {
                            "coding": [{"system": SPECIES, "code": "canislf", "display": "Dog"}],
                            "text": "dog",
                        },
                    }
                ],
            }
        ],
        "name": [{"text": summary["dog"]["name"]}],
    }
    whose = {"reference": _url(summary, "patient")}
    entries = [_entry(summary, "patient", patient)]
    entries += [
        _entry(summary, f"device {number}", _device(laser, whose))
        for number, laser in enumerate(summary["lasers"])
    ]
    entries += [
        _entry(summary, f"plan {number}", _request(plan, whose))
        for number, plan in enumerate(summary["plans"])
    ]
    for session in summary["sessions"]:
        if not session["opened"]:
            continue
        name = f"procedure {session['session']}"
        entries.append(_entry(summary, name, _procedure(session, whose, summary)))
        entries += [
            _entry(
                summary, f"{name} {what}", {**found, "partOf": [{"reference": _url(summary, name)}]}
            )
            for what, found in _observations(session, whose)
        ]
    entries += [
        _entry(
            summary,
            f"signals {number}",
            _observation(
                "signals of a dog that is not happy, as the household saw them",
                whose,
                {
                    "effectiveDateTime": seen["at"],
                    "valueString": ", ".join(seen["signals"]).replace("_", " "),
                },
            ),
        )
        for number, seen in enumerate(summary["signals"])
        if seen["signals"]
    ]
    entries += [
        _entry(summary, f"place {number}", _place(summary, number, whose))
        for number in range(len(summary["places"]))
    ]
    entries += [
        _entry(
            summary,
            f"score {number}",
            _observation(
                "function as the household rates it, 0 to 10, 10 is best",
                whose,
                {"effectiveDateTime": score["at"], "valueInteger": score["score_0_10"]},
            ),
        )
        for number, score in enumerate(summary["scores"])
        if score["score_0_10"] is not None
    ]
    return {
        "resourceType": "Bundle",
        "type": "collection",
        "timestamp": summary["made"]["at"],
        "entry": entries,
    }


def _device(laser: LaserJson, whose: dict[str, str]) -> dict[str, Any]:
    """The laser as the plan states it."""
    waves = " and ".join(laser["wavelength_nm"])
    told = f"laser class {laser['laser_class']}, {waves} nm"
    return {
        "resourceType": "Device",
        "status": "active",
        "deviceName": [{"name": laser["label"] or "laser", "type": "user-friendly-name"}],
        "type": {"text": told},
        "patient": whose,
        "property": [
            {
                "type": {"text": "mean power, as stated"},
                "valueQuantity": [_quantity(laser["mean_power_mw"], "mW")],
            }
        ],
    }


def _request(plan: PlanJson, whose: dict[str, str]) -> dict[str, Any]:
    """A revision of the prescriber's plan."""
    found: dict[str, Any] = {
        "resourceType": "ServiceRequest",
        "identifier": [{"value": f"{plan['id']} revision {plan['revision']}"}],
        "status": "active",
        "intent": "order",
        "code": {"text": PROCEDURE},
        "subject": whose,
    }
    if plan["prescriber"]:
        found["requester"] = {"display": plan["prescriber"]}
    return found


def _procedure(session: SessionJson, whose: dict[str, str], summary: SummaryJson) -> dict[str, Any]:
    status = {"finished": "completed", "stopped": "stopped", "cut_off": "stopped"}.get(
        session["state"], "not-done"
    )
    if session["why_not"].startswith("corrected"):
        status = "entered-in-error"
    found: dict[str, Any] = {
        "resourceType": "Procedure",
        "status": status,
        "code": {"text": PROCEDURE},
        "subject": whose,
        "performedDateTime": session["opened"],
        "note": [
            {
                "text": f"{session['spots_given']} of {session['spots']} spots had all their time. "
                + summary["how_counted"]
            }
        ],
    }
    # Which of several a session was by, the summary does not say.
    if len(summary["plans"]) == 1 and session["counts"]:
        found["basedOn"] = [{"reference": _url(summary, "plan 0")}]
    if len(summary["lasers"]) == 1 and session["counts"]:
        found["usedReference"] = [{"reference": _url(summary, "device 0")}]
    reason = session["reason"].replace("_", " ") or session["why_not"]
    if session["refused"]:
        asked = (f"{one['point']}: {one['answer']}, {one['outcome']}" for one in session["refused"])
        reason = f"refused at the questions ({'; '.join(asked)})".replace("_", " ")
    if status in ("stopped", "not-done") and reason:
        found["statusReason"] = {"text": reason}
    if session["who"]:
        found["performer"] = [{"actor": {"display": session["who"]}}]
    return found


def _observations(session: SessionJson, whose: dict[str, str]) -> list[tuple[str, dict[str, Any]]]:
    at = {"effectiveDateTime": session["opened"]}
    found = [
        (
            "time",
            _observation(
                "time given that counts, coached, not measured",
                whose,
                at | {"valueQuantity": _quantity(session["counted_s"], "s")},
            ),
        )
    ]
    if session["tolerance_0_10"] is not None:
        value = {"valueInteger": session["tolerance_0_10"]}
        words = "tolerance of the session as the household rates it, 0 to 10, 10 is best"
        found.append(("tolerance", _observation(words, whose, at | value)))
    if session["skin"] is not None:
        words = "skin after the session as the household saw it"
        found.append(("skin", _observation(words, whose, at | {"valueString": session["skin"]})))
    return found


def _place(summary: SummaryJson, number: int, whose: dict[str, str]) -> dict[str, Any]:
    place = summary["places"][number]
    period = {"start": summary["first_day"], "end": summary["last_day"]}
    return _observation(
        "energy by mean power as stated and time given, coached, not measured",
        whose,
        {
            "effectivePeriod": period,
            "bodySite": {"text": f"{place['term']}, {place['side']}"},
            "component": [
                {
                    "code": {"text": words},
                    "valueQuantity": _quantity(place[name], "J"),  # type: ignore[literal-required]
                }
                for name, words in (("prescribed_j", "prescribed"), ("counted_j", "given"))
            ],
        },
    )


def _observation(words: str, whose: dict[str, str], more: dict[str, Any]) -> dict[str, Any]:
    return {
        "resourceType": "Observation",
        "status": "final",
        "code": {"text": words},
        "subject": whose,
        **more,
    }


def _quantity(value: float, unit: str) -> dict[str, Any]:
    return {"value": value, "unit": unit, "system": UCUM, "code": unit}


def _url(summary: SummaryJson, name: str) -> str:
    record = summary["record"]["sha256"]
    return f"urn:uuid:{uuid.uuid5(SPACE, f'{record} {name}')}"


def _entry(summary: SummaryJson, name: str, resource: dict[str, Any]) -> dict[str, Any]:
    return {"fullUrl": _url(summary, name), "resource": resource}
