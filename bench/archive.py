"""Pages of a clinic that grows: what they cost at 1,000,000 exams over 1,000, on PostgreSQL.

The database is made for this run and dropped after it. The patient looked at and the open work of the day are
made through the services and stay the same; around them stand other people's rows, written by the database.
"""

import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from datetime import timedelta

from django.urls import reverse

SMALL, LARGE = 1_000, 1_000_000
EXAMS_A_PATIENT = 5
WAITING = 20
TIMES = 40
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
    return [
        {
            "name": f"{page}: time at {LARGE:,} exams over {SMALL:,}",
            "value": round(large / small, 2),
            "unit": f"times ({small:.1f} and {large:.1f} plain pages)",
            "must": f"at most {MUST_GROW_AT_MOST} times",
            "met": large / small <= MUST_GROW_AT_MOST,
        }
        for page, (small, large) in costs.items()
    ]


def _both_sizes() -> dict[str, list[float]]:
    from django.core.management import call_command

    from access.models import Clinic
    from access.roles import Role
    from tests.build import booked_exam, exam_with, new_patient, whole_exam
    from tests.people import person, signed_in_client

    call_command("migrate", verbosity=0)
    clinic = Clinic.objects.create(
        name="Alder House", address="1 Alder Row, Fenmarsh", phone="00000 100 100", time_zone="Europe/London"
    )
    measurer = person("Mina Measurer", clinic, Role.MEASURER)
    patient = new_patient(measurer, family_name="Onlyone", given_name="Isolde")
    shown = [whole_exam(measurer, patient, right_hallux=60 - number) for number in range(EXAMS_A_PATIENT)][-1]
    for _ in range(WAITING):
        booked_exam(measurer)
        whole_exam(measurer)
    exam_with(measurer, right_hallux=24)  # raises a slip
    pages = {
        "Today": reverse("today"),
        "patient page": reverse("timeline:patient", args=[patient.pk]),
        "exam sheet": reverse("visits:sheet", args=[shown.pk]),
        "reports": reverse("documents:list"),
        "patients found, a name of many": reverse("patients:list") + "?q=marsh",
        "patients found, a name of one": reverse("patients:list") + "?q=onlyone",
    }
    client = signed_in_client(measurer)
    times: dict[str, list[float]] = {page: [] for page in pages}
    for first, last in ((1, SMALL), (SMALL + 1, LARGE)):
        _others(shown, measurer, first, last)
        for page, address in pages.items():
            times[page].append(_times_a_plain_page(client, address))
    return times


def _times_a_plain_page(client, address: str) -> float:
    """The page's server time over that of a page without rows, fetched in turn: the machine may be busy."""
    taken: dict[str, list[float]] = {address: [], reverse("about"): []}
    for _ in range(TIMES):
        for one, times in taken.items():
            began = time.perf_counter()
            answer = client.get(one, SERVER_NAME="localhost")
            times.append(time.perf_counter() - began)
            if answer.status_code != 200:
                raise RuntimeError(f"{one} answers {answer.status_code}: nothing to measure")
    page, plain = (statistics.median(times[5:]) for times in taken.values())
    return page / plain


def _others(exam, by, first: int, last: int) -> None:
    """Exams number first to last of other people, long reported, with a reading, a slip or a report each.

    Copies of stored rows, so that every column is filled as the service fills it.
    """
    from django.db import connection

    from access import clock
    from exams.patients.models import Identifier, Patient
    from exams.visits.models import HandOver, Reading, Result
    from reports.documents.models import Document

    base = 10_000_000
    patient_id = f"{base} + n / {EXAMS_A_PATIENT}"
    long_ago = "now() - interval '30 days' - interval '1 minute' * n"
    exams = f"generate_series({first}, {last}) AS n"
    family = "'Marsh' || chr(97 + n % 26) || substr(md5(n::text), 1, 6)"
    number = f"{base} + n"
    patients = f"generate_series({first // EXAMS_A_PATIENT + (first > 1)}, {last // EXAMS_A_PATIENT}) AS n"
    _copies(
        Patient.objects.get(pk=exam.patient_id),
        patients,
        id=number,
        family_name=family,
        search_text=f"lower({family}) || ' isolde'",
        name_key=f"lower({family}) || ' isolde'",
        birth_date="date '1920-01-01' + n % 30000",
    )
    _copies(
        Identifier.objects.filter(patient_id=exam.patient_id)[0],
        patients,
        patient_id=number,
        value="'B' || n",
        value_key="'b' || n",
    )
    times = dict.fromkeys(("booked_for", "first_inflation_at", "measured_at", "lying_flat_at"), long_ago)
    _copies(exam, exams, id=number, patient_id=patient_id, state="'reported'", **times)
    reading = Reading.objects.filter(exam=exam, replaces=None)[0]
    _copies(reading, exams, exam_id=number, client_id="gen_random_uuid()")
    _copies(Result.objects.filter(exam=exam)[0], exams, exam_id=number)
    slip = HandOver.objects.latest("pk")
    closed = {"closed_at": "now()", "raised_in_error_because": "'bench'"}
    _copies(slip, exams + " WHERE n % 20 = 0", exam_id=number, **closed)
    document = Document.objects.filter(exam=exam).first() or Document.objects.create(
        exam=exam,
        clinic=exam.clinic,
        number=1,
        content={},
        content_sha256="0" * 64,
        created_at=clock.now() - timedelta(days=1),
        created_by=by.user,
        created_as="measurer",
    )
    _copies(document, exams, exam_id=number, created_at=long_ago)
    with connection.cursor() as cursor:
        cursor.execute("VACUUM ANALYZE")


def _copies(row, numbers: str, **changed: str) -> None:
    """Copy a stored row for every n of a series; changed columns are SQL that may speak of n."""
    from django.db import connection

    columns = [field.column for field in row._meta.concrete_fields if field.column != "id" or "id" in changed]
    values = ", ".join(changed.get(column, f'one."{column}"') for column in columns)
    names = ", ".join(f'"{column}"' for column in columns)
    table = row._meta.db_table
    source, _, where = numbers.partition(" WHERE ")
    with connection.cursor() as cursor:
        cursor.execute(
            f'INSERT INTO "{table}" ({names}) SELECT {values} FROM "{table}" one CROSS JOIN {source} '
            f"WHERE one.id = {row.pk} AND ({where or 'true'})"
        )


if __name__ == "__main__":
    import logging

    import django

    django.setup()
    logging.disable(logging.INFO)
    print(json.dumps(_both_sizes()))
