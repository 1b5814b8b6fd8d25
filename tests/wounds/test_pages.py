"""What a nurse sees and types, and what the trail keeps of it."""

from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from access import clock
from access.models import TrailRow
from exams.patients.services import record_limb_fact
from exams.wounds.models import Assessment, Photograph, Wound
from exams.wounds.queries import outlook_for
from exams.wounds.services import keep_photograph
from tests.build import new_patient, whole_exam
from tests.followup.make import die
from tests.wounds.make import FOUND, assess, days_ago, photograph, today, wound

pytestmark = pytest.mark.django_db

TYPED = {name: str(value) for name, value in FOUND.items()} | {"assessed_on": "today"}


def page(name, *args):
    return reverse(f"wounds:{name}", args=args)


def sent(content: bytes, name="IMG_Marsh_1950.jpg"):
    return SimpleUploadedFile(name, content, content_type="image/jpeg")


def test_a_place_tapped_on_the_map_is_chosen_without_a_script(client_as, wound_nurse, patient):
    browser = client_as(wound_nurse)
    shown = browser.get(page("patient", patient.pk)).content.decode()
    leads_to = f"{page('new', patient.pk)}?place=left:heel_back#place"
    assert f'href="{leads_to}"' in shown

    opened = browser.get(leads_to).content.decode()

    assert '<option value="left:heel_back" selected>' in opened
    assert 'class="map-field map-chosen"' in opened


def test_a_wound_on_a_lost_toe_is_refused_at_the_list_and_nothing_typed_is_lost(
    client_as, wound_nurse, patient
):
    record_limb_fact(
        patient=patient, side="right", kind="amputation", level="toe", toe=1, started_on=days_ago(60),
        source="letter", by=wound_nurse,
    )  # fmt: skip
    typed = {
        "place": "right:toe_1_sole",
        "cause": "pressure",
        "began_on": "about 2026",
        "note": "seen by son",
    }
    typed["began_on"] = days_ago(3).strftime("%d/%m/%Y")

    answer = client_as(wound_nurse).post(page("new", patient.pk), typed)
    shown = answer.content.decode()

    assert answer.status_code == 422
    assert "hallux amputation" in shown
    assert 'value="seen by son"' in shown
    assert '<option value="right:toe_1_sole" selected>' in shown
    assert "map-lost" in shown
    assert not Wound.objects.exists()


def test_an_assessment_with_a_photograph_is_kept_and_leads_to_the_wound(client_as, wound_nurse, patient):
    first = wound(wound_nurse, patient)

    answer = client_as(wound_nurse).post(
        page("assess", patient.pk, first.pk), TYPED | {"picture": sent(photograph())}
    )

    assert answer.headers["Location"] == page("wound", patient.pk, first.pk)
    found = Assessment.objects.get()
    assert found.photograph is not None
    assert "Marsh" not in found.photograph.picture.name


def test_a_photograph_is_kept_when_something_else_must_be_mended(client_as, wound_nurse, patient):
    first = wound(wound_nurse, patient)
    browser = client_as(wound_nurse)
    typed = {**TYPED, "depth": ""}
    answer = browser.post(page("assess", patient.pk, first.pk), typed | {"picture": sent(photograph())})
    assert answer.status_code == 422
    assert "A photograph is kept with this assessment" in answer.content.decode()
    kept = Photograph.objects.get()

    browser.post(page("assess", patient.pk, first.pk), TYPED | {"photograph": str(kept.pk)})

    assert Assessment.objects.get().photograph == kept


def test_a_photograph_of_a_form_never_finished_is_told_from_those_of_assessments(
    client_as, wound_nurse, patient
):
    held = wound(wound_nurse, patient)
    browser = client_as(wound_nurse)
    for typed in ({**TYPED, "depth": ""}, TYPED):
        browser.post(page("assess", patient.pk, held.pk), {**typed, "picture": sent(photograph())})

    shown = browser.get(page("wound", patient.pk, held.pk)).content.decode()

    assert (shown.count("Photograph of"), shown.count("in no assessment")) == (2, 1)


def test_a_file_that_is_no_photograph_is_refused_at_its_field(client_as, wound_nurse, patient):
    first = wound(wound_nurse, patient)

    answer = client_as(wound_nurse).post(
        page("assess", patient.pk, first.pk), TYPED | {"picture": sent(b"%PDF-1.7"), "dressing": "alginate"}
    )

    shown = answer.content.decode()
    assert answer.status_code == 422
    assert "Send it as JPEG, PNG or WebP" in shown
    assert 'value="alginate"' in shown
    assert not Photograph.objects.exists()


def test_a_tenfold_area_is_asked_about_and_taken_once_confirmed(client_as, wound_nurse, patient):
    first = wound(wound_nurse, patient)
    assess(wound_nurse, first, ago=1, length_mm=12, width_mm=10)
    browser, address = client_as(wound_nurse), page("assess", patient.pk, first.pk)
    typed = TYPED | {"length_mm": "120", "width_mm": "100"}
    asked = browser.post(address, typed)
    assert asked.status_code == 422
    assert 'name="size_confirmed"' in asked.content.decode()

    assert browser.post(address, typed | {"size_confirmed": "on"}).status_code == 302


def test_the_area_traced_on_the_photograph_counts(client_as, wound_nurse, patient):
    first = wound(wound_nurse, patient)
    picture = keep_photograph(wound=first, content=photograph(), taken_on=today(), by=wound_nurse)
    found = assess(wound_nurse, first, photograph_id=picture.pk)
    marked = {"points": "100,100 200,100 200,200 100,200", "scale": "10,10 110,10", "scale_mm": "20"}

    client_as(wound_nurse).post(page("trace", patient.pk, first.pk, found.pk), marked)

    traced = Assessment.objects.get(replaced_by=None)
    assert (traced.area_mm2, traced.area_how, traced.replaces) == (400, "traced", found)


def test_each_look_at_a_photograph_leaves_its_line(client_as, wound_nurse, patient):
    first = wound(wound_nurse, patient)
    picture = keep_photograph(wound=first, content=photograph(), taken_on=today(), by=wound_nurse)

    answer = client_as(wound_nurse).get(page("photograph", patient.pk, picture.pk))

    assert answer.headers["Content-Type"] == "image/jpeg"
    assert "no-store" in answer.headers["Cache-Control"]
    row = TrailRow.objects.latest("pk")
    assert (row.action, row.patient_id) == ("wound photograph viewed", patient.pk)


def test_a_photograph_changed_in_its_place_is_not_shown(client_as, wound_nurse, patient):
    first = wound(wound_nurse, patient)
    picture = keep_photograph(wound=first, content=photograph(), taken_on=today(), by=wound_nurse)
    with picture.picture.storage.open(picture.picture.name, "wb") as file:
        file.write(photograph(200, 200))

    answer = client_as(wound_nurse).get(page("photograph", patient.pk, picture.pk))

    assert answer.status_code == 409
    assert "is not the one that was kept" in answer.content.decode()


def test_the_outlook_opens_with_the_answer_and_whom_to_call(client_as, wound_nurse, measurer, patient):
    whole_exam(measurer, patient, right_hallux=24)
    assess(wound_nurse, wound(wound_nurse, patient, "right:toe_1_sole"))

    shown = client_as(wound_nurse).get(page("outlook", patient.pk, "right")).content.decode()

    said = shown[shown.index('<p class="lead">') :]
    assert "unlikely to heal without more blood flow" in said[: said.index("</p>")]
    assert "Call the vascular team" in said[:600]
    assert "local protocol" in shown[shown.index("Compression:") :]


def test_every_number_and_source_of_the_outlook_is_one_key_away(client_as, wound_nurse, measurer, patient):
    exam = whole_exam(measurer, patient, right_hallux=24)
    assess(wound_nurse, wound(wound_nurse, patient, "right:toe_1_sole"))

    shown = client_as(wound_nurse).get(page("outlook", patient.pk, "right")).content.decode()

    answer = outlook_for(wound_nurse, patient, "right").answer
    assert f'href="{reverse("visits:sheet", args=[exam.pk])}"' in shown
    for rule in answer.rules:
        assert f'href="#source-{rule.source}"' in shown
        assert f'id="source-{rule.source}"' in shown


def test_pages_ask_the_database_as_often_for_many_wounds_as_for_one(client_as, wound_nurse, measurer):
    one, many = new_patient(measurer), new_patient(measurer)
    places = ("right:toe_1_sole", "right:heel_under", "left:head_2", "left:leg_low", "right:mid_top")
    for patient, some in ((one, places[:1]), (many, places)):
        whole_exam(measurer, patient, at=clock.now() - timedelta(days=3))
        for place in some:
            shown = wound(wound_nurse, patient, place)
            for ago in range(len(some)):
                assess(wound_nurse, shown, ago=ago)
    browser = client_as(wound_nurse)

    def queries(patient):
        counted = []
        shown = patient.wound_episodes.get().wounds.first()
        for address in (
            page("patient", patient.pk),
            page("outlook", patient.pk, "right"),
            page("wound", patient.pk, shown.pk),
        ):
            with CaptureQueriesContext(connection) as asked:
                assert browser.get(address).status_code == 200
            counted.append(len(asked))
        return counted

    assert queries(one) == queries(many)


def test_of_the_dead_nobody_is_called_and_no_wound_is_assessed(client_as, wound_nurse, patient):
    held = wound(wound_nurse, patient)
    die(wound_nurse, patient, today())
    browser = client_as(wound_nurse)

    asked = browser.get(page("outlook", patient.pk, "right")).content.decode()
    shown = [
        browser.get(page(*args)).content.decode()
        for args in (("patient", patient.pk), ("wound", patient.pk, held.pk))
    ]

    assert "nobody is to be called" in asked
    assert 'class="act-now"' not in asked
    assert [page("assess", patient.pk, held.pk) in one for one in shown] == [False, False]


def test_an_episode_is_told_as_exactly_as_it_is_known(client_as, wound_nurse, patient):
    typed = {"place": "right:heel_back", "cause": "mixed", "began_on": "Oct 2026", "presented_on": ""}
    client_as(wound_nurse).post(page("new", patient.pk), typed)

    shown = client_as(wound_nurse).get(page("patient", patient.pk)).content.decode()

    assert "in an episode since Oct 2026" in shown
    assert "1 Oct 2026" not in shown


def test_a_date_that_may_be_vague_is_refused_with_words_that_say_so(client_as, wound_nurse, patient):
    answer = client_as(wound_nurse).post(page("new", patient.pk), {"began_on": "a while ago"})

    assert "A month or year will do: Nov 2026, about 2019." in answer.content.decode()
