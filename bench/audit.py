"""The audit in numbers: counting a year of 1,000,000 exams over a bare GROUP BY of its rows; pages; memory.

PostgreSQL only, but for the pages of the demonstration; the database is made for this run and dropped after
it (`_audit_rows.py` says what stands in it). Every counted measure is taken beside the bare question, in
turn. `VASLAB_BENCH_EXAMS=50000` takes another size, `VASLAB_BENCH_TIMES=1` fewer turns.
"""

import json
import os
import statistics
import subprocess
import sys
import tempfile
import time

EXAMS = int(os.environ.get("VASLAB_BENCH_EXAMS", "1_000_000"))
TIMES = int(os.environ.get("VASLAB_BENCH_TIMES", "3"))
PAGE_TIMES = 30
MUST_TIMES_THE_BARE_QUERY = 3
MUST_TIMES_THE_EMPTY_PAGE = 4
MUST_GROW_AT_MOST = 1.3
# Pages are taken with so many exams first. A measure about fewer rows than a tenth of the exams costs what a
# statement costs: what it asks of other tables stands beside a count of next to nothing, so such measures are
# judged together, and each is given in seconds.
FEW_EXAMS = 1000
FEW_ROWS = EXAMS // 10
# Days whose exams are exported, so that the second holds about forty times as many.
FEW_DAYS, MANY_DAYS = 1, 40


def _by_month(month, tables):
    return f"SELECT date_trunc('month', {month}), count(*) FROM {tables} GROUP BY 1"


_OF_EXAM = "JOIN visits_exam e ON e.id = r.exam_id"
_EXAM = _by_month("e.measured_at", "visits_exam e")
_READINGS = _by_month("e.measured_at", f"visits_reading r {_OF_EXAM}")
_PREPARATIONS = _by_month("e.measured_at", f"visits_preparation r {_OF_EXAM}")
_RESULTS = _by_month("e.measured_at", f"visits_result r {_OF_EXAM}")
_ASSESSED = _by_month(
    "a.assessed_on",
    "wounds_episode p JOIN wounds_wound w ON w.episode_id = p.id "
    "JOIN wounds_assessment a ON a.wound_id = w.id",
)
_TRACES = _by_month("r.received_at", f"traces_trace r {_OF_EXAM}")
_MARKS = _by_month("m.marked_at", "traces_readermark m JOIN traces_analysis a ON a.id = m.analysis_id")
_SLIPS = _by_month("r.raised_at", f"visits_handover r {_OF_EXAM}")
_STEPS = _by_month("r.made_at", "followup_referral r JOIN followup_referralstep s ON s.referral_id = r.id")
_FACTS = _by_month("started_on", "patients_limbfact")
# Measure to the rows it is about, counted by month and nothing else.
BARE = {
    **dict.fromkeys(("P01", "Q02"), _EXAM),
    **dict.fromkeys(("P02", "P03", "P04", "P06", "P07", "P08", "P09", "P10", "P11", "P12", "D04"), _READINGS),
    **dict.fromkeys(("P05", "C04", "O06"), _RESULTS),
    "P18": _PREPARATIONS,
    **dict.fromkeys(("P13", "O01", "O02", "O03", "O04", "O05", "T07"), _ASSESSED),
    **dict.fromkeys(("P14", "P15"), _TRACES),
    **dict.fromkeys(("P16", "P17"), _MARKS),
    "T02": _by_month("e.measured_at", f"documents_document r {_OF_EXAM}"),
    **dict.fromkeys(("T05", "T06"), _STEPS),
    "T08": _by_month("booked_for", "visits_exam"),
    **dict.fromkeys(("C01", "C02", "C03"), _SLIPS),
    **dict.fromkeys(("O07", "O09"), _FACTS),
    "O08": _by_month("due_by", "followup_recall"),
    "D01": _by_month("created_at", "patients_patient"),
    "D02": _by_month("e.measured_at", "visits_exam e JOIN patients_patient p ON p.id = e.patient_id"),
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
                return _figures(_found_in(name))
            finally:
                admin.execute(f"DROP DATABASE {name} WITH (FORCE)")
    except psycopg.OperationalError as absent:
        print(f"audit: scale skipped, PostgreSQL cannot be reached ({str(absent).splitlines()[0]})")
        return []


def _found_in(database):
    """What was measured in that database: a process of its own, as settings name one database."""
    with tempfile.TemporaryDirectory(prefix="vaslab-bench-") as files:
        own = {"VASLAB_DATABASE_URL": f"postgres:///{database}", "VASLAB_DATA_DIR": files, "VASLAB_DEMO": "1"}
        done = subprocess.run(
            [sys.executable, "-m", "bench.audit"],
            env={**os.environ, **own, "DJANGO_SETTINGS_MODULE": "vaslab.settings"},
            stdout=subprocess.PIPE,
            check=True,
        )
    return json.loads(done.stdout.splitlines()[-1])


def _figures(found):
    few = {name: costs for name, *costs, rows in found["counted"] if rows < FEW_ROWS}
    every = {name: costs for name, *costs, _ in found["counted"]}
    counted = [
        *(_over_bare(name, *costs) for name, costs in every.items() if name not in few),
        *(
            {
                "name": f"audit of a year, {EXAMS:,} exams: {name}, of fewer than {FEW_ROWS:,} rows",
                "value": round(ours, 3),
                "unit": f"s ({bare:.3f} s a bare GROUP BY)",
                "must": "no limit set",
                "met": True,
            }
            for name, (ours, bare) in few.items()
        ),
        _over_bare(f"all {len(few)} measures of fewer than {FEW_ROWS:,} rows", *_sums(few.values())),
        _over_bare("all measures", *_sums(every.values())),
    ]
    grown = [
        {
            "name": f"audit page, {name}: time at {EXAMS:,} exams over {FEW_EXAMS:,}",
            "value": round(after / before, 2),
            "unit": f"times ({before:.1f} and {after:.1f} plain pages)",
            "must": f"at most {MUST_GROW_AT_MOST} times",
            "met": after / before <= MUST_GROW_AT_MOST,
        }
        for name, (before, after) in found["pages"].items()
    ]
    (few_rows, few), (many_rows, many) = found["memory"]
    memory = {
        "name": f"audit export, memory of {many_rows:,} rows over {few_rows:,}",
        "value": round(many / few, 2),
        "unit": f"times ({few / 1e6:.1f} and {many / 1e6:.1f} MB)",
        "must": f"at most {MUST_GROW_AT_MOST} times",
        "met": many / few <= MUST_GROW_AT_MOST,
    }
    return [*counted, *grown, memory]


def _over_bare(what, ours, bare):
    return {
        "name": f"audit of a year, {EXAMS:,} exams: {what} over a bare GROUP BY",
        "value": round(ours / bare, 2),
        "unit": f"times ({ours:.2f} and {bare:.2f} s)",
        "must": f"at most {MUST_TIMES_THE_BARE_QUERY} times",
        "met": ours / bare <= MUST_TIMES_THE_BARE_QUERY,
    }


def _sums(costs):
    return [sum(one) for one in zip(*costs, strict=True)]


def _all():
    from datetime import UTC, date, datetime

    from django.core.management import call_command
    from django.db import connection

    from access import clock
    from access.models import Clinic
    from access.roles import Role
    from bench import _audit_rows
    from reports.audit.calendar import Period, Span
    from reports.audit.definitions import measures
    from reports.audit.services import count_year, new_count
    from reports.audit.tally import tally
    from tests.build import new_patient
    from tests.people import person

    call_command("migrate", verbosity=0)
    clinic = Clinic.objects.create(name="Alder House", time_zone="Europe/London")
    measurer = person("Mina Measurer", clinic, Role.MEASURER)
    administrator = person("Ada Administrator", clinic, Role.ADMINISTRATOR)
    year, now = Period(date(2026, 4, 1), Span.YEAR), datetime(2027, 3, 20, tzinfo=UTC)

    def pages_at(exams):
        _run(connection, "TRUNCATE patients_patient CASCADE")
        _audit_rows.fill(connection.cursor(), new_patient(measurer), measurer.user, clinic, exams)
        count_year(count=new_count(year, administrator), by=administrator)
        return _pages_over_plain(administrator)

    with clock.at(now):
        before, after = (pages_at(exams) for exams in (FEW_EXAMS, EXAMS))
    _run(connection, "SET jit = off")  # for the bare question too: it is as quick or quicker without
    counted = []
    for name, bare in BARE.items():
        rows = sum(many for _, many in _run(connection, bare))
        ours, theirs = [], []
        for _ in range(TIMES):  # in turn, so that the machine's other work falls on both
            ours.append(_seconds(lambda name=name: tally(measures()[name], clinic, year, now)))
            theirs.append(_seconds(lambda bare=bare: _run(connection, bare)))
        counted.append((name, statistics.median(ours), statistics.median(theirs), rows))
        print("  {} {:.2f} and {:.2f} s, {:,} rows".format(*counted[-1]), file=sys.stderr)
    return {
        "counted": counted,
        "pages": {name: [before[name], after[name]] for name in before},
        "memory": [_memory(clinic, days, now) for days in (FEW_DAYS, MANY_DAYS)],
    }


def _pages_over_plain(by):
    """Server time of the pages of figures over that of a page without rows, fetched in turn."""
    from tests.people import signed_in_client

    client = signed_in_client(by)
    found = {}
    for name, address in (
        ("figures", "/audit/?period=year-2026-04"),
        ("a measure", "/audit/p06/?period=year-2026-04"),
    ):
        taken = {address: [], "/about/": []}
        for _ in range(PAGE_TIMES):
            for one, times in taken.items():
                times.append(_seconds(lambda one=one: client.get(one, SERVER_NAME="localhost")))
        page, plain = (statistics.median(times[3:]) for times in taken.values())
        found[name] = page / plain
    return found


def _memory(clinic, days, now):
    """Rows and the most memory taken at once while the exams of so many days are written as pseudonyms."""
    import tracemalloc
    from datetime import timedelta

    from reports.audit import export_rows
    from reports.audit.counted.rows import Scope
    from reports.audit.export_files import write_archive
    from reports.audit.pseudonyms import Pseudonyms

    begin = now - timedelta(days=200)
    end = begin + timedelta(days=days)
    scope, names = Scope(clinic, begin, end, begin.date(), end.date(), now), Pseudonyms.of("bench")
    with tempfile.TemporaryFile() as file:
        tracemalloc.start()
        planned = export_rows.Plan(scope, names, 5)
        rows = export_rows.rows(scope, names, planned, lambda part: None)
        many = write_archive(
            file, name="exams", form="csv", columns=export_rows.COLUMNS, rows=rows, about=["bench"]
        )
        most = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
    return many, most


def _run(connection, statement):
    with connection.cursor() as cursor:
        cursor.execute(statement)
        return cursor.fetchall() if cursor.description else []


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
    import logging

    import django

    django.setup()
    logging.disable(logging.INFO)
    print(json.dumps(_all()))
