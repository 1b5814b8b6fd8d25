"""``verify_traces`` names every stored recording that is not what was received."""

import zlib
from pathlib import Path

import numpy as np
import pytest
from django.core.management import CommandError, call_command

from exams.traces.models import Trace, TracePiece
from exams.traces.services import growing
from exams.traces.services.growing import Samples
from exams.traces.services.receiving import receive_file
from exams.traces.services.sending import Said
from tests.build import ready_exam
from tests.traces.sending import PLACE, recording
from tests.traces.test_receiving import SHORT


@pytest.fixture
def file(measurer) -> Trace:
    return receive_file(exam=ready_exam(measurer), name="R.csv", content=SHORT, by=measurer)


@pytest.fixture
def sent(measurer, gateway) -> Trace:
    samples = Samples(*(np.array(recording()[name]) for name in ("time_s", "cuff_mmhg", "signal")))
    exam = ready_exam(measurer)
    return growing.receive_whole(exam=exam, said=Said(**PLACE), samples=samples, key="verify-1", by=gateway)[
        0
    ]


def verified(capsys) -> str:
    with pytest.raises(CommandError) as failed:
        call_command("verify_traces")
    assert failed.value.returncode == 1
    return capsys.readouterr().out


def with_one_byte_changed(packed: bytes) -> bytes:
    rows = bytearray(zlib.decompress(bytes(packed)))
    rows[100] ^= 1
    return zlib.compress(bytes(rows))


def test_untouched_recordings_pass(file, sent, capsys):
    call_command("verify_traces")

    assert "2 recordings looked at, 0 differences." in capsys.readouterr().out


def test_one_byte_changed_in_a_file_is_named(file, sent, capsys):
    path = Path(file.original.path)
    path.write_bytes(path.read_bytes().replace(b"140", b"141", 1))

    assert f"trace {file.pk}: its file was changed\n2 recordings looked at, 1 differences." in verified(
        capsys
    )


def test_a_file_that_is_gone_is_named(file, capsys):
    Path(file.original.path).unlink()

    assert f"trace {file.pk}: its file is gone" in verified(capsys)


def test_one_byte_changed_in_the_samples_or_a_piece_is_named(sent, capsys):
    Trace.objects.filter(pk=sent.pk).update(samples=with_one_byte_changed(sent.samples))
    piece = TracePiece.objects.get(trace=sent)
    TracePiece.objects.filter(pk=piece.pk).update(samples=with_one_byte_changed(piece.samples))

    said = verified(capsys)
    assert f"trace {sent.pk}: its samples were changed" in said
    assert f"trace {sent.pk}: piece 1 was changed" in said


def test_samples_that_cannot_even_be_unpacked_are_named(sent, capsys):
    Trace.objects.filter(pk=sent.pk).update(samples=b"no longer samples")

    assert f"trace {sent.pk}: its samples were changed" in verified(capsys)
