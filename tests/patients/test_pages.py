"""The pages: what a person at the desk types, sees and is told."""

from datetime import UTC, date, datetime

import pytest
from django.urls import reverse
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from access import clock
from access.models import TrailRow
from exams.patients import queries, services
from exams.patients.models import Patient, Side
from tests.patients.make import caution, correct, fact, register
from tests.patients.test_forms import CAUTION, FACT, IRIS


@pytest.fixture
def desk(client_as, measurer):
    return client_as(measurer)


@pytest.fixture
def iris(measurer):
    return register(measurer, telephone="00000 960001", identifiers=[("Alder House", "FN 42")])


def text_of(answer):
    return " ".join(answer.content.decode().split())


def actions():
    return list(TrailRow.objects.order_by("pk").values_list("action", flat=True))


# ---- finding


def test_before_anything_is_typed_the_page_teaches_how_to_search(desk):
    assert "people appear while you type" in text_of(desk.get(reverse("patients:list")))


def test_a_search_shows_people_and_leaves_its_words_in_the_trail(desk, iris):
    answer = desk.get(reverse("patients:list"), {"q": "IRIS fenwick"})

    assert "1 person found" in text_of(answer)
    assert reverse("timeline:patient", args=[iris.pk]) in text_of(answer)
    assert TrailRow.objects.get(action="patients searched").details == {
        "typed": "IRIS fenwick",
        "shown": [iris.pk],
    }


def test_a_search_that_finds_nobody_says_what_to_do_next(desk):
    answer = text_of(desk.get(reverse("patients:list"), {"q": "nobody"}))

    assert "Nobody in this clinic matches “nobody”" in answer
    assert reverse("patients:new") in answer


def test_one_letter_typed_in_passing_shows_nobody_but_enter_does(desk, iris):
    live = desk.get(reverse("patients:list"), {"q": "i"}, headers={"HX-Request": "true"})
    entered = desk.get(reverse("patients:list"), {"q": "i"})

    assert "Fenwick-Sample, Iris" not in text_of(live)
    assert "Fenwick-Sample, Iris" in text_of(entered)


def test_a_search_beyond_measure_is_refused_with_what_was_typed(desk):
    answer = desk.get(reverse("patients:list"), {"q": "x" * 121})

    assert answer.status_code == 422
    assert "Shorten it to 120 characters" in text_of(answer)
    assert "x" * 121 in text_of(answer)


def test_the_other_clinic_sees_nobody_of_ours(client_as, outsider, iris):
    answer = client_as(outsider).get(reverse("patients:list"), {"q": "iris"})

    assert "Fenwick-Sample" not in text_of(answer)


# ---- registering


def test_a_new_patient_is_registered_and_their_page_opens(desk):
    answer = desk.post(reverse("patients:new"), {**IRIS, "issuer_1": "Alder House", "value_1": "FN 42"})

    patient = Patient.objects.get()
    assert answer.headers["Location"] == reverse("timeline:patient", args=[patient.pk])
    assert [one.value for one in patient.identifiers_in_use] == ["FN 42"]


def test_a_refused_form_comes_back_with_what_was_typed(desk):
    answer = desk.post(
        reverse("patients:new"), {**IRIS, "birth_date": "31/04/1950", "address": "1 Alder Row"}
    )

    assert answer.status_code == 422
    assert "There is no day “31/04/1950”" in text_of(answer)
    assert 'value="31/04/1950"' in text_of(answer)
    assert "1 Alder Row" in text_of(answer)
    assert not Patient.objects.exists()


def test_an_empty_form_is_refused_at_each_field(desk):
    answer = desk.post(reverse("patients:new"), {})

    assert answer.status_code == 422
    assert "Write the family name." in text_of(answer)
    assert text_of(answer).count('id="id_family_name_error"') == 1


def test_a_likely_duplicate_is_shown_before_saving_and_noted_in_the_trail(desk, iris):
    answer = desk.post(reverse("patients:new"), IRIS)

    assert answer.status_code == 422
    assert "Is it one of these?" in text_of(answer)
    assert "the same name; the same birth date" in text_of(answer)
    assert reverse("timeline:patient", args=[iris.pk]) in text_of(answer)
    assert TrailRow.objects.get(action="likely duplicates shown").details == {"shown": [iris.pk]}
    assert Patient.objects.count() == 1


def test_different_people_of_one_name_are_registered_with_a_reason(desk, iris):
    answer = desk.post(reverse("patients:new"), {**IRIS, "duplicate_reason": "cousin of the same name"})

    assert answer.status_code == 302
    assert Patient.objects.count() == 2


def test_no_reason_gives_an_identifier_out_twice(desk, iris):
    typed = {**IRIS, "issuer_1": "alder house", "value_1": "fn-42", "duplicate_reason": "cousin"}

    answer = desk.post(reverse("patients:new"), typed)

    assert answer.status_code == 422
    assert "has this identifier already" in text_of(answer)
    assert Patient.objects.count() == 1


def test_issuers_used_before_are_offered(desk, iris):
    assert '<option value="Alder House">' in text_of(desk.get(reverse("patients:new")))


# ---- changing


def change_form(**typed):
    return {**IRIS, "telephone": "00000 960001", "revision": "1", **typed}


def test_details_are_changed(desk, iris):
    answer = desk.post(reverse("patients:change", args=[iris.pk]), change_form(referrer="Dr Invented"))

    assert answer.status_code == 302
    iris.refresh_from_db()
    assert (iris.referrer, iris.revision) == ("Dr Invented", 2)


def test_an_overtaken_page_names_the_newer_value_and_saves_on_the_second_asking(desk, iris, wound_nurse):
    services.change_patient(patient=iris, revision=1, telephone="00000 960002", by=wound_nurse)
    address = reverse("patients:change", args=[iris.pk])
    mine = change_form(
        telephone="00000 960003", kidney_disease="unknown", neuropathy="unknown", tobacco="unknown"
    )

    first = desk.post(address, mine)
    second = desk.post(address, {**mine, "revision": "2"})

    assert first.status_code == 422
    assert "it now says “00000 960002” here" in text_of(first)
    assert 'value="00000 960003"' in text_of(first)
    assert 'name="revision" value="2"' in text_of(first)
    assert second.status_code == 302


def test_a_form_refused_for_something_else_does_not_forget_that_it_is_overtaken(desk, iris, wound_nurse):
    services.change_patient(patient=iris, revision=1, telephone="00000 960002", by=wound_nurse)

    answer = desk.post(reverse("patients:change", args=[iris.pk]), change_form(birth_date="soon"))

    assert 'name="revision" value="1"' in text_of(answer)


def test_an_identifier_is_added_and_withdrawn(desk, iris):
    desk.post(reverse("patients:add_identifier", args=[iris.pk]), {"issuer": "Ward", "value": "W 7"})
    wrong = iris.identifiers.get(value="FN 42")
    address = reverse("patients:withdraw_identifier", args=[iris.pk, wrong.pk])

    refused = desk.post(address, {"reason": ""})
    desk.post(address, {"reason": "neighbour's number"})

    assert refused.status_code == 422
    assert "Say why" in text_of(refused)
    page = text_of(desk.get(reverse("patients:change", args=[iris.pk])))
    assert "<strong>W 7</strong> issued by Ward" in page
    assert "<s>FN 42 issued by Alder House</s>" in page
    assert "neighbour&#x27;s number" in page


def test_an_identifier_of_another_record_is_refused(desk, iris, measurer):
    other = register(measurer, "Otherwise", "Una")

    answer = desk.post(
        reverse("patients:add_identifier", args=[other.pk]), {"issuer": "Alder House", "value": "FN42"}
    )

    assert answer.status_code == 422
    assert "is in a record of this clinic already" in text_of(answer)


# ---- cautions


def test_the_cautions_page_opens_with_what_must_not_be_done(desk, iris, measurer):
    caution(measurer, iris, side="left", region="arm")

    page = text_of(desk.get(reverse("patients:cautions", args=[iris.pk])))

    assert "Do not inflate: LEFT arm." in page
    assert page.index(">RIGHT</h2>") < page.index(">LEFT</h2>")
    assert "No caution for the RIGHT arm or leg" in page


def test_a_caution_is_added_confirmed_and_ended(desk, iris):
    desk.post(reverse("patients:cautions", args=[iris.pk]), CAUTION)
    (added,) = queries.cautions_in_force(iris, queries.today_in(iris.clinic)).right
    desk.post(reverse("patients:caution_still_true", args=[iris.pk, added.pk]), {"review_on": "1 Jan 2999"})
    desk.post(reverse("patients:end_caution", args=[iris.pk, added.pk]), {"reason": "fistula closed"})

    page = text_of(desk.get(reverse("patients:cautions", args=[iris.pk])))
    assert "<s>Do not inflate RIGHT arm: dialysis fistula or graft</s>" in page
    assert "fistula closed (Mina Measurer)" in page
    added.refresh_from_db()
    assert added.review_on == date(2999, 1, 1)


@pytest.mark.parametrize(
    ("page", "typed", "words"),
    [
        ("patients:caution_still_true", {"review_on": "1 Jan 1999"}, "a day to come"),
        ("patients:caution_still_true", {"review_on": "never"}, "is not a date we can read"),
        ("patients:end_caution", {"reason": ""}, "Say why"),
    ],
)
def test_what_is_refused_of_a_caution_stands_beside_it_unfolded(desk, iris, measurer, page, typed, words):
    held = caution(measurer, iris)

    answer = desk.post(reverse(page, args=[iris.pk, held.pk]), typed)

    assert answer.status_code == 422
    assert words in text_of(answer)
    assert "<details open>" in text_of(answer)


def test_a_review_that_is_due_is_asked_for(desk, iris, measurer):
    with clock.at(datetime(2025, 1, 1, tzinfo=UTC)):
        caution(measurer, iris, review_on=date(2025, 6, 1))

    assert "the review was due on 1 Jun 2025" in text_of(
        desk.get(reverse("patients:cautions", args=[iris.pk]))
    )


# ---- facts of the limbs


def test_a_fact_is_recorded_and_shown_on_its_limb(desk, iris):
    desk.post(reverse("patients:facts", args=[iris.pk]), FACT)

    page = text_of(desk.get(reverse("patients:facts", args=[iris.pk])))
    left = page[page.index(">LEFT</h2>") :]
    assert "<strong>Second toe amputated or absent</strong>" in left
    assert "5 Jan 2026. " in left


def test_a_corrected_fact_is_struck_through_with_who_and_why(desk, iris, measurer):
    correct(measurer, fact(measurer, iris, note="heel"), note="second toe", reason="wrong place written")

    page = text_of(desk.get(reverse("patients:facts", args=[iris.pk])))

    assert "<strong>Open wound</strong> – second toe" in page
    assert "<s>Open wound – heel, since 5 Jan 2026</s>" in page
    assert "by Mina Measurer: wrong place written" in page


def test_a_fact_is_corrected_on_a_page_that_shows_it_as_it_stands(desk, iris, measurer):
    wound = fact(measurer, iris, note="heel")
    address = reverse("patients:correct_fact", args=[iris.pk, wound.pk])

    shown = text_of(desk.get(address))
    refused = desk.post(
        address, {"side": "left", "what": "open_wound", "started_on": "5 Jan 2026", "source": "seen"}
    )
    desk.post(
        address,
        {
            "side": "left",
            "what": "open_wound",
            "started_on": "5 Jan 2026",
            "source": "seen",
            "reason": "sides mixed up",
        },
    )

    assert 'value="5 Jan 2026"' in shown
    assert 'value="heel"' in shown
    assert refused.status_code == 422
    assert [one.kind for one in queries.limb_fact_history(iris)[Side.LEFT] if one.stands] == ["open_wound"]


def test_a_fact_is_ended_and_one_that_never_was_is_withdrawn(desk, iris, measurer):
    wound, pain = fact(measurer, iris), fact(measurer, iris, kind="rest_pain")

    desk.post(
        reverse("patients:end_fact", args=[iris.pk, wound.pk]), {"ended_on": "1/3/2026", "reason": "healed"}
    )
    desk.post(reverse("patients:withdraw_fact", args=[iris.pk, pain.pk]), {"reason": "the next bed's"})

    page = text_of(desk.get(reverse("patients:facts", args=[iris.pk])))
    assert "ended 1 Mar 2026: healed" in page
    assert "<s>Rest pain, since 5 Jan 2026</s>" in page


@pytest.mark.parametrize(
    ("page", "typed", "words"),
    [
        ("patients:end_fact", {"ended_on": "1 Jan 1999", "reason": "healed"}, "It started on 5 Jan 2026"),
        ("patients:end_fact", {"ended_on": "", "reason": "healed"}, "Write the day it ended"),
        ("patients:withdraw_fact", {"reason": " "}, "Say why"),
    ],
)
def test_what_is_refused_of_a_fact_stands_beside_it_unfolded(desk, iris, measurer, page, typed, words):
    wound = fact(measurer, iris)

    answer = desk.post(reverse(page, args=[iris.pk, wound.pk]), typed)

    assert answer.status_code == 422
    assert words in text_of(answer)
    assert "<details open>" in text_of(answer)


# ---- every page


@pytest.mark.parametrize(
    ("page", "line"),
    [
        ("patients:change", "patient details viewed"),
        ("patients:cautions", "cautions viewed"),
        ("patients:facts", "facts of limbs viewed"),
    ],
)
def test_a_page_of_a_record_leaves_one_line_in_the_trail(desk, iris, page, line):
    before = len(actions())

    desk.get(reverse(page, args=[iris.pk]))

    assert actions()[before:] == [line]


@pytest.mark.parametrize("page", ["patients:change", "patients:cautions", "patients:facts"])
@pytest.mark.parametrize("number", [0, 999_999, 10**25])
def test_a_number_of_nobody_is_not_found(desk, page, number):
    assert desk.get(reverse(page, args=[number])).status_code == 404


ANYTHING = st.dictionaries(
    st.sampled_from([*IRIS, *CAUTION, *FACT, "reason", "ended_on", "value_1"]), st.text()
)


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(typed=ANYTHING, page=st.sampled_from(["patients:change", "patients:cautions", "patients:facts"]))
def test_no_page_fails_whatever_is_sent(desk, iris, typed, page):
    sent = {name: text.encode("utf-8", "replace").decode() for name, text in typed.items()}

    assert desk.post(reverse(page, args=[iris.pk]), sent).status_code in (302, 422)


def test_no_cookie_carries_anything_of_a_patient(desk):
    answer = desk.post(reverse("patients:new"), {**IRIS, "issuer_1": "Alder House", "value_1": "FN 42"})

    said = " ".join(f"{name} {cookie.value}" for name, cookie in answer.cookies.items())
    assert "Iris" not in said
    assert "Fenwick" not in said
    assert "FN 42" not in said


def test_a_fistula_among_the_facts_is_told_on_the_page_of_cautions(desk, measurer, iris):
    fact(measurer, iris, side="left", kind="fistula")

    page = text_of(desk.get(reverse("patients:cautions", args=[iris.pk])))

    assert "<strong>Do not inflate LEFT arm</strong>: dialysis fistula or graft in the arm" in page
    assert "No caution is recorded" not in page


def test_dialysis_stands_apart_from_both_limbs(desk, iris):
    typed = {**FACT, "side": "person", "what": "dialysis", "started_on": "about 2019"}

    refused = desk.post(reverse("patients:facts", args=[iris.pk]), {**typed, "side": "left"})
    desk.post(reverse("patients:facts", args=[iris.pk]), typed)

    page = text_of(desk.get(reverse("patients:facts", args=[iris.pk])))
    assert "This is of the whole person: choose whole person." in text_of(refused)
    assert "Since about 2019, still so." in page[page.index(">Whole person</h2>") :]
