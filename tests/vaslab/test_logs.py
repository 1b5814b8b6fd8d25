"""Whatever a person types or looks at, no log tells of it."""

import io
import json
import logging.config

import pytest
from django.urls import reverse

from jobs import services as jobs
from tests.build import new_patient, whole_exam
from tests.documents.make import make
from vaslab.logging import LOGGING

pytestmark = pytest.mark.django_db


@pytest.fixture
def service_log():
    """All that the service writes to its log, set up and formatted as in service."""
    written = io.StringIO()
    handler = logging.StreamHandler(written)
    configurator = logging.config.DictConfigurator(LOGGING)
    handler.setFormatter(configurator.configure_formatter(dict(LOGGING["formatters"]["json"])))
    listened = [logging.getLogger(), *(logging.getLogger(name) for name in LOGGING["loggers"])]
    silent = [logger for logger in listened if not logger.propagate or logger is listened[0]]
    for logger in silent:
        logger.addHandler(handler)
    yield written
    for logger in silent:
        logger.removeHandler(handler)


def test_a_days_work_with_a_named_patient_leaves_numbers_only_in_the_log(measurer, client_as, service_log):
    patient = new_patient(measurer, given_name="Zenobia", family_name="Quillfeather")
    exam = whole_exam(measurer, patient)
    client = client_as(measurer)

    opened = [
        client.get(reverse("patients:list"), {"q": "Quillfeather"}),
        client.get(reverse("timeline:patient", args=[patient.pk])),
        client.get(reverse("visits:sheet", args=[exam.pk])),
        client.get("/patients/Quillfeather/"),
        client.post(reverse("patients:new"), {"family_name": "Quillfeather", "born_on": "31 Feb 1950"}),
        client.get(reverse("patients:list"), {"q": "Quillfeather"}, headers={"user-agent": "Zenobia"}),
    ]
    jobs.run(make(exam, measurer, conclusion="Zenobia Quillfeather walks well.").job_id)

    lines = [json.loads(line) for line in service_log.getvalue().splitlines()]
    assert [answer.status_code for answer in opened] == [200, 200, 200, 404, 422, 200]
    assert {line["route"] for line in lines if "route" in line} >= {"patients:list", "visits:sheet"}
    assert any(line["logger"] == "jobs" for line in lines)
    said = service_log.getvalue().lower()
    assert all(word not in said for word in ("quillfeather", "zenobia", "31 feb", "walks well"))
