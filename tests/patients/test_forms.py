"""What may be typed, and the words when it may not. No text makes a form fail."""

from datetime import UTC, date, datetime

import pytest
from django.core.exceptions import ValidationError
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from access import clock
from exams.patients import forms, services
from exams.patients.models import Patient
from tests.patients.make import register

IRIS = {
    "family_name": "Fenwick-Sample",
    "given_name": "Iris",
    "birth_date": "1 Mar 1950",
    "sex": "female",
    "diabetes": "unknown",
    "kidney_disease": "no",
    "neuropathy": "yes",
    "tobacco": "stopped",
}
CAUTION = {"place": "right:arm", "kind": "fistula", "do_not_inflate": "yes", "source": "patient"}
FACT = {"side": "left", "what": "amputation:toe:2", "started_on": "5 Jan 2026", "source": "seen today"}


def refusals(form):
    assert not form.is_valid()
    return {field: messages[0] for field, messages in form.errors.items()}


def person_form(person, **typed):
    return forms.NewPatientForm({**IRIS, **typed}, person=person)


def test_a_person_is_read_from_what_was_typed(measurer):
    form = person_form(measurer, given_name="  Iris   Ann ", issuer_1="Alder House", value_1=" FN 42 ")

    assert form.is_valid()
    assert form.values()["given_name"] == "Iris Ann"
    assert form.values()["birth_date"] == date(1950, 3, 1)
    assert form.values()["identifiers"] == [("Alder House", "FN 42")]


@pytest.mark.parametrize(
    ("typed", "field", "words"),
    [
        ({"family_name": " "}, "family_name", "Write the family name."),
        ({"given_name": ""}, "given_name", "a dash (-) if the person has one name only"),
        ({"family_name": "12345"}, "family_name", "A name has letters in it"),
        ({"family_name": "x" * 81}, "family_name", "Shorten this to 80 characters; it has 81."),
        ({"family_name": "Fen\x07wick"}, "family_name", "a character that cannot be seen"),
        ({"birth_date": "soon"}, "birth_date", "is not a date we can read"),
        ({"birth_date": "31 Dec 1899"}, "birth_date", "is before 1900"),
        ({"birth_date": "1 Jan 2999"}, "birth_date", "is still to come"),
        ({"sex": ""}, "sex", "“unknown” is an answer"),
        ({"diabetes": ""}, "diabetes", "Choose yes, no or unknown."),
        ({"tobacco": "sometimes"}, "tobacco", "Choose one"),
        ({"telephone": "none"}, "telephone", "has figures in it"),
        ({"issuer_1": "Alder House"}, "value_1", "or empty both fields"),
        ({"value_2": "42"}, "issuer_2", "or empty both fields"),
        (
            {"issuer_1": "Ward", "value_1": "42", "issuer_2": "ward", "value_2": "4-2"},
            "value_2",
            "the same identifier as the first",
        ),
    ],
)
def test_what_cannot_be_so_is_refused_at_its_field(measurer, typed, field, words):
    assert words in refusals(person_form(measurer, **typed))[field]


def test_an_identifier_in_use_is_refused_at_its_field(measurer):
    register(measurer, identifiers=[("Alder House", "FN 42")])

    form = person_form(measurer, issuer_2="alder house", value_2="fn-42")

    assert "has this identifier already" in refusals(form)["value_2"]


def test_a_person_with_one_name_has_a_dash(measurer):
    assert person_form(measurer, given_name="-").is_valid()


def test_today_is_the_day_on_the_clinics_wall(measurer):
    with clock.at(datetime(2026, 6, 30, 23, 30, tzinfo=UTC)), timezone.override(measurer.clinic.zone):
        form = forms.EndFactForm({"ended_on": "Today", "reason": "healed"})
        assert form.is_valid()

    assert form.cleaned_data["ended_on"] == date(2026, 7, 1)


def test_a_caution_is_read_from_what_was_typed():
    form = forms.CautionForm(CAUTION)

    assert form.is_valid()
    assert (form.values()["side"], form.values()["region"]) == ("right", "arm")
    assert form.values()["do_not_inflate"] is True


def test_isolation_is_chosen_without_a_side():
    form = forms.CautionForm({**CAUTION, "place": ":person", "kind": "isolation", "do_not_inflate": "no"})

    assert form.is_valid()
    assert (form.values()["side"], form.values()["region"]) == ("", "person")


@pytest.mark.parametrize("field", ["place", "kind", "do_not_inflate", "source"])
def test_a_caution_has_no_silent_default(field):
    assert field in refusals(forms.CautionForm({**CAUTION, field: ""}))


def test_a_fact_is_read_from_what_was_typed():
    form = forms.FactForm(FACT)

    assert form.is_valid()
    assert form.values() == {
        "side": "left",
        "kind": "amputation",
        "level": "toe",
        "toe": 2,
        "approach": "",
        "vessels": "",
        "device": "",
        "grade": "",
        "osteomyelitis": False,
        "started_on": date(2026, 1, 5),
        "started_precision": "day",
        "note": "",
        "source": "seen today",
    }


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"what": "foot_infection:severe"}, {"kind": "foot_infection", "grade": "severe"}),
        (
            {"what": "revascularisation:open", "vessels": ["pedal", "popliteal"], "device": "vein_graft"},
            {"approach": "open", "vessels": "popliteal pedal", "device": "vein_graft"},
        ),
        ({"what": "amputation:below_knee"}, {"level": "below_knee", "toe": None}),
        ({"side": "person", "what": "dialysis"}, {"side": "", "kind": "dialysis"}),
        ({"started_on": "about 2019"}, {"started_on": date(2019, 1, 1), "started_precision": "year"}),
        ({"started_on": "Mar 2019"}, {"started_on": date(2019, 3, 1), "started_precision": "month"}),
    ],
)
def test_an_event_is_read_from_what_was_typed(typed, said):
    form = forms.FactForm({**FACT, **typed})

    assert form.is_valid(), form.errors
    assert said.items() <= form.values().items()


@pytest.mark.parametrize("field", ["side", "what", "started_on", "source"])
def test_a_fact_has_no_silent_default(field):
    assert field in refusals(forms.FactForm({**FACT, field: ""}))


def test_what_a_service_refuses_stands_at_the_field_the_page_has_for_it():
    form = forms.FactForm(FACT)
    assert form.is_valid()

    form.take(ValidationError({"toe": "Say which toe.", "nowhere": "Said above the form."}))

    assert form.errors["what"] == ["Say which toe."]
    assert form.non_field_errors() == ["Said above the form."]


TEXT = st.text(max_size=250) | st.sampled_from(
    [
        "yes",
        "no",
        "unknown",
        "female",
        "right",
        "open_wound",
        "revascularisation:both",
        "popliteal",
        "about 1950",
        "amputation:toe:1",
        "1 Mar 1950",
        "today",
        "42",
        ":",
    ]
)
FUZZED = settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)


def typed_for(form_class):
    return st.fixed_dictionaries({}, optional=dict.fromkeys(form_class.base_fields, TEXT))


@FUZZED
@given(typed=typed_for(forms.NewPatientForm))
def test_whatever_is_typed_of_a_new_person_is_kept_or_refused_in_words(measurer, typed):
    before = Patient.objects.count()
    form = person_form(measurer, **typed)
    if form.is_valid():
        try:
            services.register_patient(by=measurer, **form.values())
        except ValidationError as error:
            form.take(error)
    assert bool(form.errors) == (Patient.objects.count() == before)


@FUZZED
@given(typed=typed_for(forms.CautionForm))
def test_whatever_is_typed_of_a_caution_is_kept_or_refused_in_words(measurer, typed):
    patient = register(measurer, duplicate_reason="an invented crowd")
    form = forms.CautionForm({**CAUTION, **typed})
    if form.is_valid():
        try:
            services.add_caution(patient=patient, by=measurer, **form.values())
        except ValidationError as error:
            form.take(error)
    assert form.errors or patient.cautions.count() == 1


@FUZZED
@given(typed=typed_for(forms.FactForm))
def test_whatever_is_typed_of_a_limb_is_kept_or_refused_in_words(measurer, typed):
    patient = register(measurer, duplicate_reason="an invented crowd")
    form = forms.FactForm({**FACT, **typed})
    if form.is_valid():
        try:
            services.record_limb_fact(patient=patient, by=measurer, **form.values())
        except ValidationError as error:
            form.take(error)
    assert form.errors or patient.limb_facts.count() == 1


@FUZZED
@given(typed=typed_for(forms.ChangePatientForm))
def test_whatever_is_typed_into_a_record_is_kept_or_refused_in_words(measurer, typed):
    patient = register(measurer, duplicate_reason="an invented crowd")
    form = forms.ChangePatientForm({**IRIS, "revision": "1", **typed}, person=measurer)
    if form.is_valid():
        try:
            services.change_patient(patient=patient, by=measurer, **form.cleaned_data)
        except ValidationError as error:
            form.take(error)
    patient.refresh_from_db()
    assert form.errors or patient.family_name == form.cleaned_data["family_name"]
