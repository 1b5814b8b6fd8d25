"""One line makes an invented patient, a caution or a fact of a limb, through the services."""

from datetime import date

from exams.patients import services
from exams.patients.models import Caution, LimbFact, Patient


def register(by, family_name="Fenwick-Sample", given_name="Iris", **said) -> Patient:
    said = {"birth_date": date(1950, 3, 1), "sex": "female", **said}
    return services.register_patient(family_name=family_name, given_name=given_name, by=by, **said)


def caution(by, patient, **said) -> Caution:
    said = {
        "side": "right",
        "region": "arm",
        "kind": "fistula",
        "do_not_inflate": True,
        "source": "patient",
        **said,
    }
    return services.add_caution(patient=patient, by=by, **said)


def fact(by, patient, **said) -> LimbFact:
    said = {
        "side": "right",
        "kind": "open_wound",
        "started_on": date(2026, 1, 5),
        "source": "seen",
        **said,
    }
    return services.record_limb_fact(patient=patient, by=by, **said)


def correct(by, fact, reason="wrong day", **said) -> LimbFact:
    """Everything as it was recorded, save what is ``said``."""
    as_it_was = {
        name: getattr(fact, name)
        for name in ("side", "kind", "toe", "started_on", "ended_on", "note", "source")
    }
    return services.correct_limb_fact(fact=fact, reason=reason, by=by, **{**as_it_was, **said})
