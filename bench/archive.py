"""Pages of a clinic that grows: what they cost at 1,000,000 exams over 1,000, on PostgreSQL.

The database is made for this run and dropped after it. The patients looked at and the open work of the day
are made through the services and stay the same; around them stand copies (`vaslab/demo/archive.py`).
`VASLAB_BENCH_EXAMS=50000` takes another large size.
"""

import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable

from django.urls import reverse

SMALL, LARGE = 1_000, int(os.environ.get("VASLAB_BENCH_EXAMS", "1_000_000"))
# Exams of the person who is seen as often as most, and of the one who is seen every other week for years.
FEW, OFTEN = 5, 200
CHANGED = "first look after a change"
WAITING = 20
TIMES, TIMES_OF_MANY = 40, 12
MUST_GROW_AT_MOST = 1.3


def measure():
    import psycopg

    server = "dbname=postgres connect_timeout=3"
    try:
        with psycopg.connect(server, autocommit=True) as admin:
            name = f"vaslab_bench_{os.getpid()}"
            admin.execute(f"CREATE DATABASE {name}")
            try:
                return _figures(_costs_in(name))
            finally:
                admin.execute(f"DROP DATABASE {name} WITH (FORCE)")
    except psycopg.OperationalError as absent:
        print(f"archive: skipped, PostgreSQL cannot be reached ({str(absent).splitlines()[0]})")
        return []


def _costs_in(database: str) -> dict[str, list[float]]:
    """What each page costs at both sizes: a process of its own, as the settings name one database."""
    with tempfile.TemporaryDirectory(prefix="vaslab-bench-") as files:
        own = {"VASLAB_DATABASE_URL": f"postgres:///{database}", "VASLAB_DATA_DIR": files, "VASLAB_DEMO": "1"}
        done = subprocess.run(
            [sys.executable, "-m", "bench.archive"],
            env={**os.environ, **own, "DJANGO_SETTINGS_MODULE": "vaslab.settings"},
            stdout=subprocess.PIPE,
            check=True,
        )
    return json.loads(done.stdout.splitlines()[-1])


def _figures(costs: dict[str, list[float]]) -> list[dict[str, object]]:
    grown = [
        _figure(f"{page}: time at {LARGE:,} exams over {SMALL:,}", small, large)
        for page, (small, large) in costs.items()
    ]
    often = [
        _figure(f"{page}: time of {OFTEN} exams of one patient over {FEW}", costs[page][1], costs[of][1])
        for page, of in ((page, f"{page}, {OFTEN} exams") for page in costs)
        if of in costs
    ]
    return [*grown, *often]


def _figure(name: str, before: float, after: float) -> dict[str, object]:
    return {
        "name": name,
        "value": round(after / before, 2),
        "unit": f"times ({before:.1f} and {after:.1f} plain pages)",
        "must": f"at most {MUST_GROW_AT_MOST} times",
        "met": after / before <= MUST_GROW_AT_MOST,
    }


def _both_sizes() -> dict[str, list[float]]:
    from django.core.management import call_command
    from django.db import connection

    from access import clock
    from access.models import Clinic
    from access.roles import Role
    from exams.patients.models import Patient
    from exams.visits.services import store_again
    from tests.build import booked_exam, exam_with, new_patient, whole_exam
    from tests.people import person, signed_in_client
    from vaslab.demo.archive import Archive
    from vaslab.demo.invented import often_seen, one_of_each
    from vaslab.demo.tell import tell_everything

    call_command("migrate", verbosity=0)
    tell_everything(clock.now(), lambda step: None, (*one_of_each(), often_seen()))
    # Before anybody of today is there: they are not copied.
    archive = Archive(whole=False)
    measurer = person("Mina Measurer", Clinic.objects.get(name="Alder House"), Role.MEASURER)
    patient = new_patient(measurer, family_name="Onlyone", given_name="Isolde")
    shown = [whole_exam(measurer, patient, right_hallux=60 - number) for number in range(FEW)][-1]
    often = Patient.objects.get(family_name=often_seen().family)
    for _ in range(WAITING):
        booked_exam(measurer)
        whole_exam(measurer)
    exam_with(measurer, right_hallux=24)  # raises a slip
    pages = {
        "Today": reverse("today"),
        "patient page": reverse("timeline:patient", args=[patient.pk]),
        "limb timeline": reverse("timeline:timeline", args=[patient.pk]),
        f"patient page, {OFTEN} exams": reverse("timeline:patient", args=[often.pk]),
        f"limb timeline, {OFTEN} exams": reverse("timeline:timeline", args=[often.pk]),
        f"patient page, {CHANGED}": reverse("timeline:patient", args=[patient.pk]),
        f"patient page, {CHANGED}, {OFTEN} exams": reverse("timeline:patient", args=[often.pk]),
        "exam sheet": reverse("visits:sheet", args=[shown.pk]),
        f"exam sheet, {OFTEN} exams": reverse("visits:sheet", args=[often.exams.latest("measured_at").pk]),
        "reports": reverse("documents:list"),
        "patients found, fifty of many": reverse("patients:list") + "?q=fm",
        "patients found, a name of one": reverse("patients:list") + "?q=onlyone",
    }
    client = signed_in_client(measurer)

    def change() -> None:
        # As a correction does: one exam's findings are stored anew, and its record is marked.
        for one in (shown, often.exams.latest("measured_at")):
            store_again(exam=one, by=measurer)

    times: dict[str, list[float]] = {page: [] for page in pages}
    for size in (SMALL, LARGE):
        archive.grow(size, lambda step: print(step, file=sys.stderr))
        with connection.cursor() as cursor:
            cursor.execute("VACUUM ANALYZE")
        for page, address in pages.items():
            times[page].append(_times_a_plain_page(client, page, address, change))
    return times


def _times_a_plain_page(client, page: str, address: str, change: Callable[[], None]) -> float:
    """The page's server time over that of a page without rows, fetched in turn: the machine may be busy."""
    taken: dict[str, list[float]] = {address: [], reverse("about"): []}
    for _ in range(TIMES_OF_MANY if CHANGED in page else TIMES):
        if CHANGED in page:
            change()
        for one, times in taken.items():
            began = time.perf_counter()
            answer = client.get(one, SERVER_NAME="localhost")
            times.append(time.perf_counter() - began)
            if answer.status_code != 200:
                raise RuntimeError(f"{one} answers {answer.status_code}: nothing to measure")
    middle = [statistics.median(times[3:]) for times in taken.values()]
    return middle[0] / middle[1]


if __name__ == "__main__":
    import logging

    import django

    django.setup()
    logging.disable(logging.INFO)
    print(json.dumps(_both_sizes()))
