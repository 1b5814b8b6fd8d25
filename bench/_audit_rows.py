"""A year of one clinic as rows for `bench.audit`: written by the database itself, as nobody could type them.

Numbers of rows stand beside each table for 1,000,000 exams. Corrections, withdrawn facts and exams that count
nowhere are among them, so that no question has it easier than in a clinic.
"""

from typing import Any

EXAMS_OF_ONE = 5
# Two exams of one person lie apart by this many places; no divisor of any number of people used here.
STEP_OF_PEOPLE = 7919
DAY = "timestamptz '2026-04-01 08:00+00'"


def fill(cursor: Any, patient: Any, user: Any, clinic: Any, exams: int) -> None:
    """``exams`` measured exams of the audit year from April 2026, and what a clinic has beside them."""
    people = max(1, exams // EXAMS_OF_ONE)
    # Rows point to rows of this run only; checking each of many millions would take longer than all else.
    cursor.execute("SET session_replication_role = replica")
    _people(cursor, patient, people)
    _exams(cursor, patient, user, clinic, exams, people)
    _readings(cursor, user)
    _preparations(cursor, user)
    _results(cursor)
    _slips(cursor, user)
    _reports(cursor, user, clinic)
    _recordings(cursor, user, clinic)
    _wounds(cursor, patient, user, clinic, people)
    _followed(cursor, patient, user, clinic, people)
    _pairs(cursor, user)
    cursor.execute("SET session_replication_role = DEFAULT")
    cursor.execute("VACUUM ANALYZE")


def _people(cursor: Any, patient: Any, people: int) -> None:  # 200,000
    from exams.patients.models import Patient

    columns = {field.column: f'p."{field.column}"' for field in Patient._meta.concrete_fields}
    del columns["id"]
    columns["diabetes"] = "CASE WHEN n % 10 < 6 THEN 'yes' WHEN n % 10 < 9 THEN 'no' ELSE 'unknown' END"
    columns["created_at"] = f"{DAY} + (n % 365) * interval '1 day'"
    names, values = ", ".join(f'"{name}"' for name in columns), ", ".join(columns.values())
    cursor.execute(
        f"INSERT INTO patients_patient ({names}) SELECT {values} FROM patients_patient p, "
        f"generate_series(1, {people - 1}) n WHERE p.id = {patient.pk}"
    )


def _exams(cursor: Any, patient: Any, user: Any, clinic: Any, exams: int, people: int) -> None:  # 1,000,000
    from exams.visits.models import Exam

    at = f"{DAY} + (n::bigint * 365 * 86400 / {exams}) * interval '1 second'"
    values = {
        "clinic_id": clinic.pk,
        "patient_id": f"{patient.pk} + (n::bigint * {STEP_OF_PEOPLE}) % {people}",
        "exam_type": "CASE WHEN n % 3 = 0 THEN 'ankle_and_toe' ELSE 'toe_only' END",
        "state": "CASE n % 200 WHEN 7 THEN 'not_attended' WHEN 8 THEN 'in_error' ELSE 'reported' END",
        "closed_because": "CASE WHEN n % 200 IN (7, 8) THEN 'said so' ELSE '' END",
        "in_error_at": f"CASE WHEN n % 200 = 8 THEN {at} END",
        "in_error_by_id": f"CASE WHEN n % 200 = 8 THEN {user.pk} END",
        "imported_from": "CASE WHEN n % 50 = 3 THEN 'table.csv, row 2' ELSE '' END",
        "entered_later": "n % 50 IN (3, 4)",
        "booked_for": at,
        "indication": "'other'",
        "lying_flat_at": f"CASE WHEN n % 25 > 0 THEN {at} END",
        "first_inflation_at": f"{at} + (5 + n % 11) * interval '1 minute'",
        "measured_at": f"CASE WHEN n % 200 <> 7 THEN {at} + interval '30 minutes' END",
        "measured_by_id": user.pk,
        "created_at": at,
        "created_by_id": user.pk,
    }
    _insert(cursor, Exam, values, f"generate_series(1, {exams}) n")


_SITES = """(VALUES ('right', 'arm', 1, 1), ('left', 'arm', 1, 1), ('right', 'toe_1', 1, 1),
  ('left', 'toe_1', 1, 1), ('right', 'toe_1', 2, 2), ('right', 'posterior_tibial', 1, 3),
  ('right', 'dorsalis_pedis', 1, 3), ('left', 'posterior_tibial', 1, 3), ('left', 'dorsalis_pedis', 1, 3)
  ) s(side, site, attempt, every)"""


def _readings(cursor: Any, user: Any) -> None:  # 5,900,000
    from exams.visits.models import Reading

    outcome = (
        "CASE WHEN s.site = 'toe_1' AND s.side = 'left' AND e.id % 20 = 0 THEN 'not_obtained' "
        "WHEN s.every = 3 AND e.id % 15 = 0 THEN 'not_occludable' ELSE 'pressure' END"
    )
    values = {
        "exam_id": "e.id",
        "side": "s.side",
        "site": "s.site",
        "attempt": "s.attempt",
        "outcome": outcome,
        "pressure_mmhg": f"CASE WHEN {outcome} = 'pressure' THEN 60 + (e.id * 7 + s.attempt * 3) % 80 END",
        "reason": f"CASE WHEN {outcome} = 'not_obtained' THEN 'wound_under_cuff' ELSE '' END",
        "technique": "'two_cuffs'",
        "client_id": "gen_random_uuid()",
        "typed_at": "e.measured_at",
        "entered_at": "e.measured_at",
        "entered_by_id": user.pk,
    }
    source = f"visits_exam e, {_SITES} WHERE e.measured_at IS NOT NULL AND e.id % s.every = 0"
    _insert(cursor, Reading, values, f"{source} ORDER BY e.id")
    # One reading in a hundred exams was corrected.
    corrected = {**values, "replaces_id": "r.id", "replaced_because": "'digits swapped'"}
    corrected |= dict.fromkeys(("outcome",), "'pressure'")
    corrected |= {"reason": "''", "pressure_mmhg": "70"}
    corrected |= {name: f"r.{name}" for name in ("side", "site", "attempt")}
    again = "visits_exam e JOIN visits_reading r ON r.exam_id = e.id AND r.site = 'arm' AND r.side = 'right'"
    _insert(cursor, Reading, corrected, f"{again} WHERE e.id % 100 = 1")


def _preparations(cursor: Any, user: Any) -> None:  # 2,600,000
    from exams.visits.models import Preparation

    items = (
        "(VALUES ('right_toe_celsius', '31', 1), ('left_toe_celsius', '24', 10), "
        "('left_toe_celsius', '31', 2), ('cuffs_cleaned', 'yes', 1)) i(item, value, every)"
    )
    values = {
        "exam_id": "e.id",
        "item": "i.item",
        "value": "i.value",
        "client_id": "gen_random_uuid()",
        "typed_at": "e.measured_at",
        "entered_at": "e.measured_at",
        "entered_by_id": user.pk,
    }
    which = "e.measured_at IS NOT NULL AND e.id % i.every = 0 AND NOT (i.every = 2 AND e.id % 10 = 0)"
    _insert(cursor, Preparation, values, f"visits_exam e, {items} WHERE {which} ORDER BY e.id")
    warm = {**values, "item": "c.item", "value": "'32'", "replaces_id": "c.id"}
    again = (
        "visits_preparation c JOIN visits_exam e ON e.id = c.exam_id WHERE c.value = '24' AND e.id % 20 = 0"
    )
    _insert(cursor, Preparation, warm, again)


def _results(cursor: Any) -> None:  # 3,800,000
    from exams.visits.models import Result

    measures = """(VALUES ('', 'arm_difference', 1),
      ('right', 'toe_pressure', 1), ('left', 'toe_pressure', 1),
      ('right', 'ankle_brachial_index', 3), ('left', 'ankle_brachial_index', 3),
      ('right', 'urgency', 50)) m(limb, measure, every)"""
    values = {
        "exam_id": "e.id",
        "limb": "m.limb",
        "measure": "m.measure",
        "criteria": "'acc-aha-2024'",
        "criteria_version": "'2'",
        "value": "CASE WHEN m.measure = 'urgency' THEN NULL ELSE e.id % 130 + length(m.limb) END",
        "band": "CASE WHEN m.measure = 'urgency' THEN 'AT_ONCE' "
        "WHEN m.measure <> 'ankle_brachial_index' THEN '' "
        "WHEN e.id % 12 = 0 THEN 'NON_COMPRESSIBLE' ELSE 'NORMAL' END",
        "finding": "'{}'::jsonb",
        "computed_at": "e.measured_at",
    }
    source = f"visits_exam e, {measures} WHERE e.measured_at IS NOT NULL AND e.id % m.every = 0"
    _insert(cursor, Result, values, f"{source} ORDER BY e.id")


def _slips(cursor: Any, user: Any) -> None:  # 20,000
    from exams.visits.models import HandOver

    values = {
        "exam_id": "e.id",
        "limb": "'right'",
        "flag": "'TOE_UNDER_30'",
        "sentence": "'tell somebody'",
        "raised_at": "e.measured_at",
        "raised_by_id": user.pk,
        "due_at": "e.measured_at + interval '4 hours'",
        "told_at": "e.measured_at + (e.id % 7) * interval '1 hour'",
        "told_by_id": user.pk,
        "told_name": "'Dr Rowan Staithe'",
        "told_role": "'surgeon'",
        "told_number": "'1'",
        "patient_told": "'yes'",
        "read_back": "'24'",
        "agreed": "'seen tonight'",
        "closed_at": "e.measured_at + interval '6 hours'",
        "closed_by_id": user.pk,
    }
    _insert(cursor, HandOver, values, "visits_exam e WHERE e.id % 50 = 0 AND e.measured_at IS NOT NULL")


def _reports(cursor: Any, user: Any, clinic: Any) -> None:  # 1,000,000 and 50,000 that replace one
    from reports.documents.models import Document

    values = {
        "exam_id": "e.id",
        "clinic_id": clinic.pk,
        "number": "1",
        "status": "'preliminary'",
        "conclusion": "'healthy'",
        "content": "'{}'::jsonb",
        "content_sha256": "repeat('0', 64)",
        "created_at": "e.measured_at + (e.id % 6) * interval '1 day'",
        "created_by_id": user.pk,
        "created_as": "CASE WHEN e.id % 4 = 0 THEN 'measurer' ELSE 'reporter' END",
    }
    _insert(cursor, Document, values, "visits_exam e WHERE e.measured_at IS NOT NULL ORDER BY e.id")
    again = {**values, "number": "2", "supersedes_id": "d.id", "created_as": "'reporter'"}
    again["created_at"] = "d.created_at + interval '1 day'"
    _insert(
        cursor,
        Document,
        again,
        "documents_document d JOIN visits_exam e ON e.id = d.exam_id WHERE d.id % 20 = 0",
    )


def _recordings(cursor: Any, user: Any, clinic: Any) -> None:  # 200,000 with reading and mark
    from exams.traces.models import Analysis, ReaderMark, Trace

    trace = {
        "clinic_id": clinic.pk,
        "exam_id": "e.id",
        "side": "'right'",
        "site": "'toe_1'",
        "technique": "'two_cuffs'",
        "kind": "'refill'",
        "state": "'arrived'",
        "format": "'csv'",
        "attempt": "1",
        "original_size": "0",
        "received_at": "e.measured_at",
        "received_by_id": user.pk,
    }
    _insert(cursor, Trace, trace, "visits_exam e WHERE e.id % 5 = 0 AND e.measured_at IS NOT NULL")
    analysis = {
        "trace_id": "t.id",
        "version": "'1'",
        "reading": "CASE WHEN t.id % 20 = 0 THEN "
        '\'{"beat_mmhg": {"not_stated": "no return"}, "flags": [{"code": "occlusion_doubtful"}]}\'::jsonb '
        'ELSE \'{"beat_mmhg": 2.5, "flags": []}\'::jsonb END',
        "pressure_mmhg": "CASE WHEN t.id % 20 > 0 THEN 60 + t.id % 60 END",
        "low_mmhg": "CASE WHEN t.id % 20 > 0 THEN 56 + t.id % 60 END",
        "high_mmhg": "CASE WHEN t.id % 20 > 0 THEN 64 + t.id % 60 END",
        "usable": "t.id % 20 > 0",
        "confidence": "'high'",
        "computed_at": "t.received_at",
    }
    _insert(cursor, Analysis, analysis, "traces_trace t")
    mark = {
        "trace_id": "a.trace_id",
        "analysis_id": "a.id",
        "verdict": "CASE WHEN a.usable THEN 'good' ELSE 'unreadable' END",
        "how": "CASE WHEN a.usable THEN 'moved' ELSE 'none' END",
        "pressure_mmhg": "a.pressure_mmhg + (a.id % 9 - 4) * 0.5",
        "reason": "CASE WHEN a.usable THEN '' ELSE 'leak' END",
        "program_version": "'1'",
        "marked_at": "a.computed_at",
        "marked_by_id": user.pk,
    }
    _insert(cursor, ReaderMark, mark, "traces_analysis a WHERE a.id % 50 > 0")


def _wounds(cursor: Any, patient: Any, user: Any, clinic: Any, people: int) -> None:  # 60,000 episodes
    from exams.patients.models import LimbFact
    from exams.wounds.models import Assessment, Episode, Wound

    some = f"generate_series(0, {people * 3 // 10 - 1}) n"
    day = "date '2026-04-01' + (n % 365)::int"
    who = f"{patient.pk} + (n::bigint * 3) % {people}"
    fact = {
        "patient_id": who,
        "side": "CASE WHEN n % 2 = 0 THEN 'right' ELSE 'left' END",
        "kind": "'open_wound'",
        "started_on": day,
        "started_precision": "'day'",
        "ended_on": f"CASE WHEN n % 3 > 0 THEN {day} + 60 END",
        "ended_by_id": f"CASE WHEN n % 3 > 0 THEN {user.pk} END",
        "ended_reason": "CASE WHEN n % 3 > 0 THEN 'healed' ELSE '' END",
        "source": "'seen'",
        "entered_at": DAY,
        "entered_by_id": user.pk,
    }
    _insert(cursor, LimbFact, fact, some)
    for kind, every, more in (
        ("revascularisation", 5, {"approach": "'endovascular'"}),
        ("amputation", 12, {"level": "CASE WHEN n % 24 = 0 THEN 'below_knee' ELSE 'transmetatarsal' END"}),
    ):
        one = {**fact, **more, "kind": f"'{kind}'", "started_on": f"{day} + 20"}
        one |= {"ended_on": "NULL::date", "ended_by_id": "NULL::integer", "ended_reason": "''"}
        _insert(cursor, LimbFact, one, f"{some} WHERE n % {every} = 0")
    episode = {
        "clinic_id": clinic.pk,
        "patient_id": "f.patient_id",
        "began_on": "f.started_on",
        "presented_on": "f.started_on",
        "entered_at": DAY,
        "entered_by_id": user.pk,
        "index_side": "f.side",
        "toe_band": "CASE WHEN f.id % 4 > 0 THEN 'WIFI_1' ELSE '' END",
        "healed_12w": "f.id % 3 = 0",
        "healed_24w": "f.id % 3 < 2",
    }
    # Each of the number of its fact, so that the wounds find them.
    _insert(
        cursor,
        Episode,
        {"id": "f.id", **episode},
        "patients_limbfact f WHERE f.kind = 'open_wound' ORDER BY f.id",
    )
    wound = {"id": "p.id", "episode_id": "p.id", "number": "1", "fact_id": "p.id"}
    _insert(cursor, Wound, wound, "wounds_episode p")
    assessment = {
        "wound_id": "p.id",
        "assessed_on": "p.presented_on + 3 + k * 14",
        "depth": "'skin'",
        "gangrene": "'none'",
        "infection_looked": "'none'",
        "offloading": "'none'",
        "entered_at": DAY,
        "entered_by_id": user.pk,
    }
    _insert(cursor, Assessment, assessment, "wounds_episode p, generate_series(0, 2) k")


def _followed(cursor: Any, patient: Any, user: Any, clinic: Any, people: int) -> None:
    """30,000 referrals with three steps each, 60,000 recalls."""
    from exams.followup.models import Recall, Referral, ReferralStep

    referral = {
        "clinic_id": clinic.pk,
        "patient_id": "f.patient_id",
        "side": "f.side",
        "sent_to": "'vascular'",
        "reasons": "'toe 24'",
        "made_at": "(f.started_on + 5)::timestamptz + interval '9 hours'",
        "made_by_id": user.pk,
        "state": "'accepted'",
        "urgency": "'one_working_day'",
    }
    _insert(cursor, Referral, referral, "patients_limbfact f WHERE f.kind = 'open_wound' AND f.id % 2 = 0")
    step = {
        "id": "r.id * 4 + s.place",
        "follows_id": "CASE WHEN s.place > 0 THEN r.id * 4 + s.place - 1 END",
        "referral_id": "r.id",
        "before": "s.before",
        "state": "s.state",
        "urgency": "'one_working_day'",
        "day": "CASE WHEN s.state IN ('seen', 'treated') "
        "THEN (r.made_at + s.days * interval '1 day')::date END",
        "at": "r.made_at + s.days * interval '1 day'",
        "by_id": user.pk,
        "by_role": "'reporter'",
    }
    steps = (
        "(VALUES (0, '', 'sent', 0, 1), (1, 'sent', 'accepted', 3, 1), (2, 'accepted', 'seen', 6, 2), "
        "(3, 'seen', 'treated', 9, 4)) s(place, before, state, days, every)"
    )
    _insert(cursor, ReferralStep, step, f"followup_referral r, {steps} WHERE r.id % s.every = 0")
    recall = {
        "clinic_id": clinic.pk,
        "patient_id": f"{patient.pk} + (n::bigint * 3) % {people}",
        "kind": "'risk'",
        "category": "2",
        "scheme": "'IWGDF'",
        "counted_from": "date '2026-04-01' + (n % 365)::int - 90",
        "due_from": "date '2026-04-01' + (n % 365)::int - 14",
        "due_by": "date '2026-04-01' + (n % 365)::int",
        "made_at": DAY,
        "made_by_id": user.pk,
        "ended_at": f"CASE WHEN n % 3 > 0 THEN {DAY} + (n % 365 - 5) * interval '1 day' END",
        "ended_by_id": f"CASE WHEN n % 3 > 0 THEN {user.pk} END",
        "ended_because": "CASE WHEN n % 3 > 0 THEN 'came' ELSE '' END",
        "ended_as": "CASE WHEN n % 3 > 0 THEN 'seen' ELSE '' END",
    }
    _insert(cursor, Recall, recall, f"generate_series(1, {people * 3 // 10}) n")


def _pairs(cursor: Any, user: Any) -> None:  # 10,000
    from exams.visits.models import AgreementRepeat

    values = {
        "exam_id": "e.id",
        "first_id": "e.id - 1",
        "study": "'autumn'",
        "recuffed_by_id": user.pk,
        "recorded_at": "e.measured_at",
        "recorded_by_id": user.pk,
    }
    _insert(
        cursor, AgreementRepeat, values, "visits_exam e WHERE e.id % 100 = 2 AND e.measured_at IS NOT NULL"
    )


def _insert(cursor: Any, model: Any, values: dict[str, Any], source: str) -> None:
    """Rows with these values; other columns are empty as their kind allows."""
    from django.db import models

    values = dict(values)
    for field in model._meta.concrete_fields:
        if field.column in values or field.primary_key or field.null:
            continue
        said = "false" if isinstance(field, models.BooleanField) else "''"
        if field.choices and isinstance(field.default, str):
            said = f"'{field.default}'"
        values[field.column] = said
    names = ", ".join(f'"{name}"' for name in values)
    said = ", ".join(str(value) for value in values.values())
    cursor.execute(f"INSERT INTO {model._meta.db_table} ({names}) SELECT {said} FROM {source}")
