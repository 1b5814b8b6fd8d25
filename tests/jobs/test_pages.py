"""Jobs on the screen: followed without a script, tried again, never another clinic's."""

import pytest
from django.urls import reverse

from access.models import TrailRow
from jobs import services
from jobs.models import Job
from tests.jobs import kinds  # noqa: F401  (names the kinds used here)

pytestmark = pytest.mark.django_db


def test_the_list_teaches_when_there_are_no_jobs(measurer, client_as):
    page = client_as(measurer).get(reverse("jobs:list"))

    assert "No jobs yet" in page.text


def test_a_waiting_job_is_followed_without_a_script(measurer, client_as):
    job = services.start("greet", by=measurer, numbers={"row": 7})

    page = client_as(measurer).get(reverse("jobs:state", args=[job.pk]))

    assert "Waiting for a worker" in page.text
    assert '<noscript><meta http-equiv="refresh" content="3"></noscript>' in page.text


def test_a_page_that_waits_for_a_job_gets_its_state_alone_and_asks_again(measurer, client_as):
    job = services.start("greet", by=measurer, numbers={"row": 7})

    part = client_as(measurer).get(reverse("jobs:state", args=[job.pk]), headers={"HX-Request": "true"})

    assert "<html" not in part.text
    assert 'hx-trigger="every 1s"' in part.text


def test_a_finished_job_leads_to_what_it_made_and_is_asked_about_no_more(measurer, client_as):
    job = services.start("greet", by=measurer, numbers={"row": 7})
    services.run(job.pk)

    part = client_as(measurer).get(reverse("jobs:state", args=[job.pk]), headers={"HX-Request": "true"})

    assert 'href="/greeting/7/"' in part.text
    assert "hx-trigger" not in part.text


def test_the_page_that_a_finished_job_opens_is_loaded_again_and_comes_up_ready(measurer, client_as):
    job = services.start("greet", by=measurer, numbers={"row": 7})
    services.run(job.pk)
    here = {"HX-Request": "true", "HX-Current-URL": "http://testserver/greeting/7/"}
    elsewhere = {"HX-Request": "true", "HX-Current-URL": "http://testserver/jobs/"}

    client = client_as(measurer)
    asked = [
        client.get(reverse("jobs:state", args=[job.pk]), headers=headers) for headers in (here, elsewhere)
    ]

    assert [answer.headers.get("HX-Refresh") for answer in asked] == ["true", None]


def test_a_failed_job_says_why_and_is_tried_again_by_its_button(measurer, client_as):
    job = _failed(measurer)

    page = client_as(measurer).post(reverse("jobs:try_again", args=[job.pk]), follow=True)

    assert "Waiting for a worker" in page.text
    assert TrailRow.objects.filter(action="background job tried again").count() == 1


def test_a_failed_job_shows_its_reason(measurer, client_as):
    job = _failed(measurer)

    page = client_as(measurer).get(reverse("jobs:state", args=[job.pk]))

    assert "Enter one, then print." in page.text
    assert "Try again" in page.text


def test_another_clinics_job_answers_not_found(measurer, outsider, client_as):
    job = services.start("greet", by=measurer, numbers={"row": 7})

    assert client_as(outsider).get(reverse("jobs:state", args=[job.pk])).status_code == 404


def test_another_clinics_job_is_not_listed(measurer, outsider, client_as):
    services.start("greet", by=measurer, numbers={"row": 7})

    assert "No jobs yet" in client_as(outsider).get(reverse("jobs:list")).text


def test_the_list_takes_as_many_queries_for_fifty_jobs_as_for_one(
    measurer, client_as, django_assert_max_num_queries, django_assert_num_queries
):
    client = client_as(measurer)
    services.start("greet", by=measurer, numbers={"row": 0})
    client.get(reverse("jobs:list"))
    with django_assert_max_num_queries(20) as for_one:
        client.get(reverse("jobs:list"))
    for row in range(50):
        services.start("greet", by=measurer, numbers={"row": row})

    with django_assert_num_queries(len(for_one)):
        client.get(reverse("jobs:list"))


def _failed(by):
    job = services.start("fail as asked", by=by, numbers={"how": 1})
    services.run(job.pk)
    job.refresh_from_db()
    return job


def test_whoever_minds_jobs_is_offered_no_report_that_would_be_refused(
    measurer, system_administrator, client_as
):
    job = services.start("greet", by=measurer, numbers={"row": 7})
    services.run(job.pk)
    Job.objects.filter(pk=job.pk).update(result={"open": "/reports/7/"})

    pages = [client_as(one).get(reverse("jobs:list")).text for one in (measurer, system_administrator)]

    assert ['href="/reports/7/"' in page for page in pages] == [True, False]
