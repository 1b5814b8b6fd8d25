"""The audit in numbers: counting a year of 1,000,000 exams over a bare GROUP BY of the same rows; its pages.

PostgreSQL only for the first; the database is made for this run and dropped after it. The exams are rows of
one year and one clinic, five a patient, with two toe readings each. `VASLAB_BENCH_EXAMS=50000` takes another
size.
"""

import json
import os
import statistics
import subprocess
import sys
import tempfile
import time

EXAMS = int(os.environ.get("VASLAB_BENCH_EXAMS", "1_000_000"))
EXAMS_OF_ONE = 5
TIMES = 5
MUST_TIMES_THE_BARE_QUERY = 3
MUST_TIMES_THE_EMPTY_PAGE = 4
# Measure to the rows that a bare GROUP BY counts by month.
BARE = {
    "P01": "SELECT date_trunc('month', measured_at), count(*) FROM visits_exam GROUP BY 1",
    "D02": (
        "SELECT date_trunc('month', e.measured_at), count(*) FROM visits_exam e "
        "JOIN patients_patient p ON p.id = e.patient_id GROUP BY 1"
    ),
    "P06": (
        "SELECT date_trunc('month', e.measured_at), count(*) FROM visits_reading r "
        "JOIN visits_exam e ON e.id = r.exam_id GROUP BY 1"
    ),
}


def measure():
    return [*_scale(), *_pages()]


def _scale():
    import psycopg

    try:
        with psycopg.connect("dbname=postgres connect_timeout=3", autocommit=True) as admin:
            name = f"vaslab_bench_audit_{os.getpid()}"
            admin.execute(f"CREATE DATABASE {name}")
            try:
                return _figures(_costs_in(name))
            finally:
                admin.execute(f"DROP DATABASE {name} WITH (FORCE)")
    except psycopg.OperationalError as absent:
        print(f"audit: scale skipped, PostgreSQL cannot be reached ({str(absent).splitlines()[0]})")
        return []


def _costs_in(database):
    """Seconds of each measure and of its bare query: a process of its own, as settings name one database."""
    with tempfile.TemporaryDirectory(prefix="vaslab-bench-") as files:
        own = {"VASLAB_DATABASE_URL": f"postgres:///{database}", "VASLAB_DATA_DIR": files, "VASLAB_DEMO": "1"}
        done = subprocess.run(
            [sys.executable, "-m", "bench.audit"],
            env={**os.environ, **own, "DJANGO_SETTINGS_MODULE": "vaslab.settings"},
            stdout=subprocess.PIPE,
            check=True,
        )
    return json.loads(done.stdout.splitlines()[-1])


def _figures(costs):
    return [
        {
            "name": f"audit of a year, {EXAMS:,} exams: {name} over a bare GROUP BY",
            "value": round(ours / bare, 2),
            "unit": f"times ({ours:.2f} and {bare:.2f} s)",
            "must": f"at most {MUST_TIMES_THE_BARE_QUERY} times",
            "met": ours / bare <= MUST_TIMES_THE_BARE_QUERY,
        }
        for name, (ours, bare) in costs.items()
    ]


def _both():
    from datetime import UTC, date, datetime

    from django.core.management import call_command
    from django.db import connection

    from access.models import Clinic
    from access.roles import Role
    from reports.audit.calendar import Period, Span
    from reports.audit.definitions import measures
    from reports.audit.tally import step_for, tally
    from tests.build import new_patient
    from tests.people import person

    call_command("migrate", verbosity=0)
    clinic = Clinic.objects.create(name="Alder House", time_zone="Europe/London")
    measurer = person("Mina Measurer", clinic, Role.MEASURER)
    patient = new_patient(measurer)
    with connection.cursor() as cursor:
        _fill(cursor, patient, measurer.user, clinic)
        cursor.execute("VACUUM ANALYZE")
    year, now = Period(date(2026, 4, 1), Span.YEAR), datetime(2027, 5, 1, tzinfo=UTC)
    step = step_for(clinic, year, now)
    costs = {}
    for name, bare in BARE.items():
        ours, theirs = [], []
        for _ in range(TIMES):  # in turn, so that the machine's other work falls on both
            ours.append(_seconds(lambda name=name: tally(measures()[name], clinic, year, now, (), step)))
            theirs.append(_seconds(lambda bare=bare: _run(connection, bare)))
        costs[name] = [statistics.median(ours), statistics.median(theirs)]
    return costs


def _fill(cursor, patient, user, clinic):
    """Copies of one patient, and exams and readings of theirs, spread over the year."""
    from exams.patients.models import Patient
    from exams.visits.models import Exam, Reading

    people = EXAMS // EXAMS_OF_ONE
    columns = [field.column for field in Patient._meta.concrete_fields if field.column != "id"]
    listed = ", ".join(f'"{column}"' for column in columns)
    cursor.execute(
        f"INSERT INTO patients_patient ({listed}) SELECT {listed} FROM patients_patient, "
        f"generate_series(1, {people - 1}) WHERE id = {patient.pk}"
    )
    at = "timestamptz '2026-04-01 09:00+00' + (n % 365) * interval '1 day' + (n % 7) * interval '1 hour'"
    exam = {
        "clinic_id": clinic.pk,
        "patient_id": f"{patient.pk} + n % {people}",
        "exam_type": "'toe_only'",
        "state": "'reported'",
        "booked_for": at,
        "indication": "'other'",
        "lying_flat_at": at,
        "first_inflation_at": f"{at} + (5 + n % 11) * interval '1 minute'",
        "measured_at": f"{at} + interval '30 minutes'",
        "created_at": at,
        "created_by_id": user.pk,
    }
    _insert(cursor, Exam, exam, f"generate_series(1, {EXAMS}) n")
    reading = {
        "exam_id": "e.id",
        "side": "s.side",
        "site": "'toe_1'",
        "attempt": 1,
        "outcome": "'pressure'",
        "pressure_mmhg": "60 + e.id % 40",
        "technique": "'two_cuffs'",
        "client_id": "gen_random_uuid()",
        "typed_at": "e.measured_at",
        "entered_at": "e.measured_at",
        "entered_by_id": user.pk,
    }
    _insert(cursor, Reading, reading, "visits_exam e, (VALUES ('right'), ('left')) s(side)")


def _insert(cursor, model, values, source):
    """Rows with these values; other columns are empty as their kind allows."""
    from django.db import models

    for field in model._meta.concrete_fields:
        if field.column in values or field.primary_key or field.null:
            continue
        empty = "false" if isinstance(field, models.BooleanField) else "''"
        values[field.column] = empty
    names = ", ".join(f'"{name}"' for name in values)
    said = ", ".join(str(value) for value in values.values())
    cursor.execute(f"INSERT INTO {model._meta.db_table} ({names}) SELECT {said} FROM {source}")


def _run(connection, statement):
    with connection.cursor() as cursor:
        cursor.execute(statement)
        cursor.fetchall()


def _seconds(work):
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def _pages():
    """Server time of the audit's pages over an empty page's, on the demonstration's data."""
    from io import StringIO

    from django.core.management import call_command
    from django.test.utils import override_settings

    from access.models import Clinic, Membership
    from access.people import person_for
    from bench import service
    from reports.audit.queries.rules import year_now
    from reports.audit.services import count_year, new_count
    from tests.people import signed_in_client

    call_command("migrate", verbosity=0)
    if not Clinic.objects.exists():
        call_command("demo", stdout=StringIO())
    held = Membership.objects.filter(role="administrator").select_related("user").order_by("pk")[0]
    by = person_for(held.user, held.clinic_id)
    count_year(count=new_count(year_now(by), by), by=by)
    client = signed_in_client(by)
    year = f"?period={year_now(by).key}"
    figures = []
    with override_settings(ROOT_URLCONF="bench.service"):
        for name, address in (("figures", f"/audit/{year}"), ("a measure", f"/audit/p01/{year}")):
            taken, alone, queries = service._cost(client, address)
            figures.append(
                {
                    "name": f"audit page, {name}: time over the empty page's",
                    "value": round(taken / alone, 2),
                    "unit": f"times, {queries} queries",
                    "must": f"at most {MUST_TIMES_THE_EMPTY_PAGE} times",
                    "met": taken / alone <= MUST_TIMES_THE_EMPTY_PAGE,
                }
            )
    return figures


if __name__ == "__main__":
    import django

    django.setup()
    print(json.dumps(_both()))
