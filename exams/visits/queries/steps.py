"""The steps of an exam as the sheet shows them: what is done, what may be done now, and what it asks for."""

from collections.abc import Mapping

from access.people import Person
from access.permissions import allowed
from exams.visits.models import Exam, ExamState, Indication
from exams.visits.plan import OPEN_STATES, TRANSITIONS
from exams.visits.queries.chart import Chart
from exams.visits.sheet import Choice, Field, Step

HOW_IDENTIFIED = {
    "stated": "name and birth date stated by the person",
    "carer": "name and birth date stated by someone with the person",
    "card": "card or wristband read",
}


def steps_of(chart: Chart, person: Person) -> tuple[Step, ...]:
    """Every step of the exam, in the order of its course."""
    exam = chart.exam
    measures, books = allowed(person, "measure"), allowed(person, "book exam")
    return (
        Step(
            key="identity",
            label="Who is on the couch",
            button="Identity confirmed",
            done=exam.identity_confirmed_at is not None,
            offered=measures and _may(exam, "identity"),
            at=exam.identity_confirmed_at,
            by=exam.identity_confirmed_by.full_name if exam.identity_confirmed_by else "",
            words=exam.identity_confirmed_how
            or "Ask for name and birth date, and compare them with the banner.",
            fields=(_choice("how", "How confirmed", HOW_IDENTIFIED),),
        ),
        Step(
            key="lying_flat",
            label="Lying flat",
            button="Keep these times" if exam.entered_later else "Lying flat now",
            done=exam.lying_flat_at is not None,
            offered=measures and _may(exam, "lying_flat"),
            at=exam.lying_flat_at,
            fields=_paper_times() if exam.entered_later else (),
        ),
        Step(
            key="indication",
            label="Why the test is done",
            button="Keep this reason",
            done=bool(exam.indication),
            offered=books and exam.state in (ExamState.BOOKED, *OPEN_STATES),
            words=indication_words(exam),
            fields=(
                _choice("indication", "Reason", dict(Indication.choices), exam.indication),
                Field("indication_text", "In words", "text", typed=exam.indication_text),
                Field("referrer", "Asked for by", "text", typed=exam.referrer),
            ),
        ),
        Step(
            key="cautions",
            label="Reasons not to inflate a cuff",
            button="Both arms and legs checked: this is all",
            done=exam.cautions_confirmed_at is not None,
            offered=measures and exam.state in OPEN_STATES,
            at=exam.cautions_confirmed_at,
            words="Still true? Anything new is added on the patient's page first.",
        ),
        Step(
            key="measured",
            label="Measured",
            button="Measured",
            done=exam.measured_at is not None,
            offered=measures and _may(exam, "measured"),
            at=exam.measured_at,
            by=exam.measured_by.full_name if exam.measured_by else "",
        ),
        _closing("not_attended", "The person did not come", "Not attended", "What is known", books, exam),
        _closing("stopped", "Stop before the end", "Stop the exam", "Why it is stopped", measures, exam),
        _closing("reopen", "Open the exam again", "Open again", "Why it is opened again", measures, exam),
    )


def _may(exam: Exam, step: str) -> bool:
    return exam.state in TRANSITIONS[step]


def _closing(key: str, label: str, button: str, asks: str, may: bool, exam: Exam) -> Step:
    return Step(
        key=key,
        label=label,
        button=button,
        done=exam.state == key,
        offered=may and _may(exam, key),
        words=exam.closed_because if exam.state == key else "",
        fields=(Field("because", asks, "text"),),
    )


def _choice(name: str, label: str, words: Mapping[str, str], typed: str = "") -> Field:
    return Field(
        name,
        label,
        "choice",
        typed=typed,
        choices=tuple(Choice(code, str(one)) for code, one in words.items()),
    )


def _paper_times() -> tuple[Field, ...]:
    return (
        Field("lying_flat_at", "Lying flat at, as on the paper (10:05)", "text"),
        Field("first_inflation_at", "First cuff inflated at (10:16)", "text"),
    )


def indication_words(exam: Exam) -> str:
    words = str(exam.get_indication_display()) if exam.indication else ""
    return f"{words}: {exam.indication_text}" if exam.indication_text else words
