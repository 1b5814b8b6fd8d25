"""Files in an S3-compatible store: every room that keeps files keeps them there, and finds them again."""

from datetime import timedelta

import boto3
import pytest
from django.apps import apps
from django.core.exceptions import ValidationError
from django.core.files.storage import default_storage
from django.core.management import call_command
from django.db.models import FileField
from moto.server import ThreadedMotoServer

from access import clock
from exams.traces.queries.original import stored_original
from exams.traces.services.receiving import receive_file
from exams.wounds.queries.rows import picture_of
from exams.wounds.services import keep_photograph
from reports.documents.services import open_pdf
from tests.build import ready_exam, whole_exam
from tests.documents.make import rendered
from tests.wounds.make import photograph, wound
from vaslab import env
from vaslab.backup import keep, restore

SHORT = b"time_s,cuff_mmhg,ppg\n" + b"".join(b"%d,%d,1\n" % (at, 180 - at) for at in range(60))


@pytest.fixture(scope="module")
def store_address():
    server = ThreadedMotoServer(ip_address="127.0.0.1", port=0, verbose=False)
    server.start()
    host, port = server.get_host_and_port()
    yield f"{host}:{port}"
    server.stop()


@pytest.fixture
def bucket(store_address, tmp_path, monkeypatch, settings):
    """The service set as its variables would set it, on an empty bucket; what boto3 itself finds there."""
    (tmp_path / "secret").write_text("ford\n")
    monkeypatch.setenv("VASLAB_FILES_URL", f"s3+http://{store_address}/alder-house")
    monkeypatch.setenv("VASLAB_FILES_KEY", "fen")
    monkeypatch.setenv("VASLAB_FILES_SECRET_FILE", str(tmp_path / "secret"))
    options = env._files_store()
    settings.STORAGES = {
        **settings.STORAGES,
        "default": {"BACKEND": "storages.backends.s3.S3Storage", "OPTIONS": options},
    }
    there = boto3.resource(
        "s3",
        endpoint_url=options["endpoint_url"],
        aws_access_key_id="fen",
        aws_secret_access_key="ford",
        region_name="us-east-1",
    ).Bucket("alder-house")
    there.create()
    yield there
    there.objects.all().delete()
    there.delete()


def test_no_room_keeps_a_file_past_the_storage_that_is_set():
    fields = [
        field for model in apps.get_models() for field in model._meta.fields if isinstance(field, FileField)
    ]

    assert fields
    assert all(field.storage is default_storage for field in fields)


@pytest.mark.django_db
def test_a_recording_a_photograph_and_a_report_lie_in_the_store_and_are_found_again(bucket, measurer):
    trace = receive_file(exam=ready_exam(measurer), name="R.csv", content=SHORT, by=measurer)
    exam = whole_exam(measurer)
    kept = keep_photograph(
        wound=wound(measurer, exam.patient),
        content=photograph(),
        taken_on=(clock.now() - timedelta(days=1)).date(),
        by=measurer,
    )
    report = rendered(exam, measurer)

    names = {one.key for one in bucket.objects.all()}
    assert names == {trace.original.name, kept.picture.name, report.pdf.name}
    assert stored_original(trace) == SHORT
    assert picture_of(kept)[:2] == b"\xff\xd8"
    assert open_pdf(document=report, by=measurer)[:5] == b"%PDF-"


@pytest.mark.django_db
def test_a_file_gone_from_the_store_is_said_in_words(bucket, measurer):
    trace = receive_file(exam=ready_exam(measurer), name="R.csv", content=SHORT, by=measurer)
    bucket.objects.all().delete()

    with pytest.raises(ValidationError, match="not the one that was received"):
        stored_original(trace)


@pytest.mark.django_db(transaction=True)
def test_a_backup_takes_files_out_of_the_store_and_a_restore_puts_them_back(
    bucket, measurer, settings, tmp_path
):
    settings.BACKUP_KEY = bytes(32)
    trace = receive_file(exam=ready_exam(measurer), name="R.csv", content=SHORT, by=measurer)
    keep(tmp_path / "backup")
    call_command("flush", interactive=False, verbosity=0)
    bucket.objects.all().delete()

    restore(tmp_path / "backup")

    assert [one.key for one in bucket.objects.all()] == [trace.original.name]
    assert bucket.Object(trace.original.name).get()["Body"].read() == SHORT


@pytest.mark.django_db
def test_the_service_is_ready_with_its_store_and_not_without(bucket, client, settings):
    assert client.get("/ready").json()["files"] == "well"

    options = {**settings.STORAGES["default"]["OPTIONS"], "endpoint_url": "http://127.0.0.1:1"}
    settings.STORAGES = {**settings.STORAGES, "default": {**settings.STORAGES["default"], "OPTIONS": options}}

    assert client.get("/ready").json()["files"] == "does not answer"
