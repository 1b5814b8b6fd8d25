"""The service in numbers: what a page costs over an empty one, and what a second worker brings."""

import statistics
import time
from concurrent.futures import ProcessPoolExecutor
from io import StringIO

from django.core.management import call_command
from django.db import connection
from django.db.models import Count
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.test.utils import CaptureQueriesContext, override_settings
from django.urls import path, reverse

from vaslab.urls import urlpatterns as of_the_site

TIMES = 30
REPORTS = 12
# One that the settings allow: Django's test environment would copy every template's variables.
HOST = "localhost"
MUST_TIMES_THE_EMPTY_PAGE = 4
MUST_TIMES_ONE_WORKER = 1.7


def empty(request: HttpRequest) -> HttpResponse:
    return render(request, "base.html")


# Under a name that every role may open, so that the page passes all that the others pass.
urlpatterns = [*of_the_site, path("empty/", empty, name="about")]


def measure():
    return [*_pages(), _second_worker()]


def _pages():
    """Server time of each page as a ratio to the empty page's, on the demonstration's data; its queries."""
    from access.models import Clinic, User
    from access.people import person_for
    from exams.traces.models import State, Trace
    from exams.visits.models import Exam
    from exams.wounds.models import WoundEntry
    from tests.people import signed_in_client

    call_command("migrate", verbosity=0)
    if not Clinic.objects.exists():
        call_command("demo", stdout=StringIO())
    # One clinic for all pages: the one with recordings.
    clinic = Trace.objects.filter(state=State.READ, withdrawn_at=None).latest("pk").clinic_id
    exams = Exam.objects.filter(clinic=clinic)
    most = exams.values("patient_id").annotate(exams=Count("pk")).order_by("-exams")[0]
    exam = exams.filter(patient_id=most["patient_id"], measured_at__isnull=False).latest("measured_at")
    measurer = User.objects.filter(memberships__role="measurer", memberships__clinic=clinic).first()
    client = signed_in_client(person_for(measurer, clinic))
    addresses = {
        "Today": reverse("today"),
        f"patient page ({most['exams']} exams)": reverse("timeline:patient", args=[most["patient_id"]]),
        "limb summary": reverse("timeline:summary", args=[most["patient_id"]]),
        "limb timeline": reverse("timeline:timeline", args=[most["patient_id"]]),
        "exam sheet": reverse("visits:sheet", args=[exam.pk]),
        "patients found": reverse("patients:list") + "?q=a",
        "reports": reverse("documents:list"),
    }
    read = Trace.objects.filter(clinic=clinic, state=State.READ, withdrawn_at=None)
    place = read.values("exam", "side", "site").annotate(traces=Count("pk")).order_by("-traces", "exam")[0]
    repeats = place.pop("traces")
    trace = read.filter(**place).earliest("pk")
    addresses |= {
        f"Trace desk ({repeats} recordings of the place)": reverse("traces:desk", args=[trace.pk]),
        "blind reading": reverse("traces:blind", args=[trace.pk]),
        "recordings of an exam": reverse("traces:exam", args=[trace.exam_id]),
    }
    open_wound = WoundEntry.objects.filter(
        wound__episode__clinic=clinic, replaced_by=None, closed_on=None
    ).latest("pk")
    of_foot = [open_wound.patient_id, open_wound.side]
    addresses |= {
        "wounds of both feet": reverse("wounds:patient", args=of_foot[:1]),
        "healing outlook": reverse("wounds:outlook", args=of_foot),
    }
    figures = []
    with override_settings(ROOT_URLCONF=__name__):
        _, alone, queries = _cost(client, "/empty/")
        figures.append(_figure("empty page, signed in", round(1000 * alone, 1), f"ms, {queries} queries"))
        for name, address in addresses.items():
            taken, alone, queries = _cost(client, address)
            figures.append(
                _figure(
                    f"{name}: time over the empty page's",
                    round(taken / alone, 2),
                    f"times, {queries} queries",
                    f"at most {MUST_TIMES_THE_EMPTY_PAGE} times",
                    taken / alone <= MUST_TIMES_THE_EMPTY_PAGE,
                )
            )
    return figures


def _cost(client, address):
    """The middle of the page's server times in seconds, warm, that of the empty page's, and its queries.

    The two are fetched in turn, so that the machine's other work falls on both.
    """
    for _ in range(2):
        status = client.get(address, SERVER_NAME=HOST).status_code
        if status != 200:
            raise RuntimeError(f"{address} answers {status}: nothing to measure")
    with CaptureQueriesContext(connection) as asked:
        client.get(address, SERVER_NAME=HOST)
        queries = len(asked)
    taken, alone = [], []
    for _ in range(TIMES):
        for page, times in ((address, taken), ("/empty/", alone)):
            began = time.perf_counter()
            client.get(page, SERVER_NAME=HOST)
            times.append(time.perf_counter() - began)
    return statistics.median(taken), statistics.median(alone), queries


def _second_worker():
    """Reports a second of two worker processes over one."""
    one, two = _seconds_for_all(1), _seconds_for_all(2)
    return _figure(
        "report PDFs a second: two workers over one",
        round(one / two, 2),
        "times",
        f"at least {MUST_TIMES_ONE_WORKER} times",
        one / two >= MUST_TIMES_ONE_WORKER,
    )


def _seconds_for_all(workers: int) -> float:
    with ProcessPoolExecutor(workers) as pool:
        list(pool.map(_print_one, range(2 * workers)))  # each process loads its library and fonts first
        began = time.perf_counter()
        list(pool.map(_print_one, range(REPORTS)))
        return time.perf_counter() - began


def _print_one(number: int) -> int:
    from reports.documents import render
    from tests.documents import contents

    return len(render.pdf(contents.usual(), f"bench {number}", contents.MADE_AT).data)


def _figure(name, value, unit, must="no limit set", met=True):
    return {"name": name, "value": value, "unit": unit, "must": must, "met": met}
