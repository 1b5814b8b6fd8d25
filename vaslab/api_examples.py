"""Examples in the description of the interface: sent one after another they tell an exam from end to end."""

from typing import Any

_DOPPLER = {"outcome": "pressure", "technique": "doppler"}

# By operation, then by the name of the example, what is sent.
EXAMPLES: dict[str, dict[str, dict[str, Any]]] = {
    "register_patient": {
        "a new person": {
            "family_name": "Sedgemoor",
            "given_name": "Isolde",
            "birth_date": "1948-03-02",
            "sex": "female",
            "diabetes": "yes",
            "identifiers": [{"issuer": "Fenmarsh", "value": "FM 90210"}],
        },
    },
    "change_patient": {"another telephone": {"telephone": "01234 555 010"}},
    "book_exam": {
        "ankles and toes": {
            "patient": 61,
            "exam_type": "ankle_and_toe",
            "booked_for": "2026-11-26T09:30:00Z",
            "referrer": "Dr Staithe, Sluice Lane practice",
        },
    },
    "take_step": {
        "1 who it is": {"step": "identity", "how": "stated"},
        "2 why": {"step": "indication", "indication": "foot_ulcer"},
        "3 no reason against a cuff": {"step": "cautions"},
        "4 lying flat now": {"step": "lying_flat"},
        "5 all is measured": {"step": "measured"},
    },
    "record_reading": {
        "an arm": {**_DOPPLER, "side": "right", "site": "arm", "pressure_mmhg": 140},
        "an artery of the ankle": {
            **_DOPPLER,
            "side": "right",
            "site": "dorsalis_pedis",
            "pressure_mmhg": 102,
        },
        "an artery that cannot be occluded": {
            "outcome": "not_occludable",
            "technique": "doppler",
            "side": "right",
            "site": "posterior_tibial",
            "pressure_mmhg": 250,
        },
        "a toe": {
            "outcome": "pressure",
            "technique": "two_cuffs",
            "side": "right",
            "site": "toe_1",
            "pressure_mmhg": 54.5,
        },
        "why nothing was measured": {
            "outcome": "not_obtained",
            "technique": "two_cuffs",
            "side": "left",
            "site": "toe_1",
            "reason": "dressing_not_removed",
        },
    },
    "correct_reading": {
        "digits swapped": {
            "outcome": "pressure",
            "technique": "doppler",
            "pressure_mmhg": 104,
            "because": "digits swapped",
        },
    },
    "make_report": {
        "as was drafted": {
            "conclusion": "RIGHT: arterial disease; ankle and toe agree.",
            "findings_etag": '"0f5c7d1e2b3a4958677685940a1b2c3d"',
        },
    },
}


def with_examples(result: dict[str, Any], **kwargs: Any) -> dict[str, Any]:
    """Put the examples at the bodies of their operations."""
    for operations in result["paths"].values():
        for operation in operations.values():
            told = EXAMPLES.get(operation["operationId"])
            if told:
                body = operation["requestBody"]["content"]["application/json"]
                body["examples"] = {name: {"value": value} for name, value in told.items()}
    return result
