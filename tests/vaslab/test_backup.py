"""A backup restored into an empty place has every row, file and trail line; a changed one is named."""

import gzip
import json
import os
import re
import shutil
import subprocess
import sys
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

import pytest
from django.apps import apps
from django.core import serializers
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.core.management import CommandError, call_command
from django.test import override_settings
from django.utils.crypto import get_random_string

from access import clock, services, verify
from access.models import Clinic, TrailRow, User
from access.people import person_for
from access.roles import Role
from exams.patients.models import Patient
from exams.traces.services.receiving import receive_file
from exams.wounds.services import keep_photograph
from tests.build import new_patient, ready_exam, whole_exam
from tests.documents.make import rendered
from tests.people import person
from tests.processes import HOUSE
from tests.wounds.make import photograph, wound
from vaslab.backup.tables import LEFT_OUT, SECRETS, columns, label, tables

SHORT = b"time_s,cuff_mmhg,ppg\n" + b"".join(b"%d,%d,1\n" % (at, 180 - at) for at in range(60))


@dataclass(frozen=True)
class Kept:
    """A backup, and all that was there when it was made."""

    folder: Path
    rows: dict[str, str]
    files: dict[str, bytes]


@pytest.fixture(scope="module")
def kept(django_db_setup, django_db_blocker, tmp_path_factory):
    """Of a small service with rows of many rooms and files of three; the database is empty again after it."""
    place = tmp_path_factory.mktemp("service")
    with django_db_blocker.unblock(), override_settings(MEDIA_ROOT=place / "files"):
        try:
            _tell(person("Mina Measurer", Clinic.objects.create(name="Alder House"), Role.MEASURER))
            rows, files = everything()
            call_command("backup", str(place / "backup"), verbosity=0)
        finally:
            call_command("flush", interactive=False, verbosity=0)
    return Kept(place / "backup", rows, files)


def _tell(measurer):
    exam = whole_exam(measurer, new_patient(measurer, family_name="Größe-Ñandú"))
    receive_file(exam=ready_exam(measurer), name="R.csv", content=SHORT, by=measurer)
    keep_photograph(
        wound=wound(measurer, exam.patient),
        content=photograph(),
        taken_on=(clock.now() - timedelta(days=1)).date(),
        by=measurer,
    )
    rendered(exam, measurer)
    services.hand_out_queue_key(by=measurer)


@pytest.fixture
def backup(kept, tmp_path):
    """A copy that a test may spoil."""
    shutil.copytree(kept.folder, tmp_path / "backup")
    return tmp_path / "backup"


@pytest.fixture
def empty_place(transactional_db, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "files"


def everything():
    """Every row as Django itself writes it, and every file; not by our own way of reading them."""
    rows = {
        model._meta.label: serializers.serialize("json", model._base_manager.order_by("pk"))
        for model in apps.get_models(include_auto_created=True)
        if model._meta.label not in LEFT_OUT
    }
    return rows, {name: default_storage.open(name).read() for name in all_files()}


def all_files(folder=""):
    folders, names = default_storage.listdir(folder)
    below = [name for one in folders for name in all_files(f"{folder}{one}/")]
    return [f"{folder}{name}" for name in names] + below


def restore(folder, **options):
    call_command("restore", str(folder), verbosity=0, **options)


def test_restored_into_an_empty_place_every_row_and_file_is_there_again(kept, empty_place):
    restore(kept.folder)

    rows, files = everything()
    # The restore itself has left its line, in the chain of the service.
    changed = {name for name, said in rows.items() if said != kept.rows[name]}
    assert changed == {"access.TrailRow", "access.TrailHead"}
    assert kept.rows["access.TrailRow"][:-1] in rows["access.TrailRow"]
    assert TrailRow.objects.latest("pk").action == "restored from a backup"
    assert files == kept.files
    assert len(files) == 3
    assert all(chain.whole for chain in verify.verify_all())


def test_work_goes_on_in_a_restored_place_which_is_not_overwritten(kept, empty_place):
    restore(kept.folder)
    measurer = person_for(User.objects.get(full_name="Mina Measurer"))
    newest = new_patient(measurer, family_name="Newcomer")
    before = everything()

    with pytest.raises(CommandError, match="not empty: there are rows in access"):
        restore(kept.folder)

    assert Patient.objects.latest("pk") == newest
    assert everything() == before


def test_a_file_that_lies_in_the_way_is_not_overwritten(kept, empty_place):
    name = default_storage.save(sorted(kept.files)[0], ContentFile(b"another's"))

    with pytest.raises(CommandError, match="There is a file"):
        restore(kept.folder)

    assert default_storage.open(name).read() == b"another's"
    assert not any(model._base_manager.exists() for model in tables())


def test_a_folder_that_holds_something_is_not_written_into(kept):
    with pytest.raises(CommandError, match="not empty"):
        call_command("backup", str(kept.folder), verbosity=0)


@pytest.mark.parametrize("part", ["manifest.json", "files.jsonl.gz", "rows/visits.Reading.jsonl.gz", "files"])
def test_one_changed_byte_is_found_and_named(backup, part):
    path = next((backup / part).iterdir()) if part == "files" else backup / part
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 1
    path.write_bytes(content)

    with pytest.raises(CommandError, match=re.escape(path.name)):
        restore(backup, check=True)


@pytest.mark.parametrize(
    ("gone", "said"),
    [
        ("rows/visits.Reading.jsonl.gz", r"rows/visits.Reading.jsonl.gz is missing"),
        ("manifest.json", "broken off"),
        ("manifest.seal", "not as it was sealed"),
    ],
)
def test_a_missing_part_is_named(backup, gone, said):
    (backup / gone).unlink()

    with pytest.raises(CommandError, match=said):
        restore(backup, check=True)


def test_a_backup_of_another_version_is_refused_with_what_to_do(backup, empty_place):
    said = json.loads((backup / "manifest.json").read_text())
    said["migrations"].append("visits.0999_from_the_future")
    (backup / "manifest.json").write_text(json.dumps(said))

    with pytest.raises(CommandError, match=r"visits.0999_from_the_future\). Restore it with that version"):
        restore(backup, unsealed=True)


def test_under_another_secret_key_the_seal_is_asked_for_unless_the_old_one_is_given(kept, settings):
    made_under, settings.SECRET_KEY = settings.SECRET_KEY, get_random_string(50)
    with pytest.raises(CommandError, match="another VASLAB_SECRET_KEY"):
        restore(kept.folder, check=True)

    settings.SECRET_KEY_FALLBACKS = [made_under]

    restore(kept.folder, check=True)


def test_rows_that_do_not_add_up_undo_the_whole_restore(backup, empty_place):
    said = json.loads((backup / "manifest.json").read_text())
    said["tables"]["visits.Reading"]["mark"] = "0" * 64
    (backup / "manifest.json").write_text(json.dumps(said))

    with pytest.raises(CommandError, match=r"visits.Reading are not those of the backup"):
        restore(backup, unsealed=True)

    assert not any(model._base_manager.exists() for model in tables())
    assert all_files() == []


def test_a_file_lost_before_the_backup_is_said_then_and_at_the_restore(kept, empty_place, tmp_path, capsys):
    restore(kept.folder)
    lost = next(name for name in kept.files if name.startswith("wounds/"))
    default_storage.delete(lost)

    call_command("backup", str(tmp_path / "second"))
    call_command("restore", str(tmp_path / "second"), check=True)

    said = capsys.readouterr()
    assert f"MISSING in the file store, and so in this backup: {lost}" in said.out
    assert "1 files were missing when the backup was made" in said.err
    assert TrailRow.objects.latest("pk").action == "backup made"


def test_a_backup_says_which_secrets_are_inside_and_holds_no_key_of_ours(kept, settings):
    said = json.loads((kept.folder / "manifest.json").read_text())
    content = b"".join(gzip.decompress(path.read_bytes()) for path in (kept.folder / "rows").iterdir())

    assert set(SECRETS.values()) <= set(said["holds"])
    assert settings.SECRET_KEY.encode() not in content
    assert not (kept.folder / "rows/sessions.Session.jsonl.gz").exists()


def test_no_secret_of_a_table_is_forgotten():
    looks_secret = re.compile(r"password|secret|token|salt|hash|^key$|^data$")
    sums = {"access.TrailRow.hash", "access.TrailRow.previous_hash", "access.TrailHead.hash"}
    sums |= {
        "access.KeyUsed.content_hash",
        "visits.Result.criteria_hash",
        "visits.AdoptedCriteria.content_hash",
    }
    names = {"access.KeyUsed.key", "followup.TargetChange.key"}
    found = {
        f"{label(model)}.{field.name}"
        for model in tables()
        for field in columns(model)
        if looks_secret.search(field.name)
    }

    assert found - sums - names == set(SECRETS)


# ---- encrypted


@pytest.fixture
def encrypted(kept, empty_place, settings, tmp_path):
    """The same service kept under a key; and this place is empty again."""
    restore(kept.folder)
    settings.BACKUP_KEY = bytes(range(32))
    call_command("backup", str(tmp_path / "encrypted"), verbosity=0)
    call_command("flush", interactive=False, verbosity=0)
    for name in all_files():
        default_storage.delete(name)
    return tmp_path / "encrypted"


def test_under_a_key_no_part_can_be_read_and_no_name_tells_of_a_file(kept, encrypted):
    parts = [path for path in encrypted.rglob("*") if path.is_file()]
    plain = {path.name for path in (kept.folder / "files").iterdir()}

    assert not plain & {path.name for path in parts}
    assert {path.name for path in parts if not path.read_bytes().startswith(b"vaslab backup, encrypted")} == {
        "manifest.json",
        "manifest.seal",
    }
    assert "whole record of every clinic, encrypted" in (encrypted / "manifest.json").read_text()


def test_with_its_key_an_encrypted_backup_comes_back_whole(kept, encrypted):
    restore(encrypted)

    rows, files = everything()
    changed = {name for name, said in rows.items() if said != kept.rows[name]}
    assert changed == {"access.TrailRow", "access.TrailHead"}
    assert files == kept.files


@pytest.mark.parametrize("other", [None, bytes(32)])
def test_without_its_key_it_is_refused_and_the_key_is_named(encrypted, settings, other):
    settings.BACKUP_KEY = other

    with pytest.raises(CommandError, match=r"encrypted with the key named [0-9a-f]{16}"):
        restore(encrypted, check=True)


@pytest.mark.parametrize("spoil", ["flip", "cut", "swap"])
def test_an_encrypted_file_that_was_changed_cut_off_or_swapped_is_found(encrypted, spoil):
    one, other, *_ = sorted((encrypted / "files").iterdir())
    content = bytearray(one.read_bytes())
    content[-1] ^= spoil == "flip"
    one.write_bytes({"flip": content, "cut": content[:-1], "swap": other.read_bytes()}[spoil])

    with pytest.raises(CommandError, match=f"files/{one.name} was changed"):
        restore(encrypted, check=True)


# ---- between databases


@pytest.mark.workers
@pytest.mark.postgres
def test_what_postgresql_kept_sqlite_takes_and_gives_back_to_postgresql(empty_place, tmp_path, settings):
    _tell(person("Mina Measurer", Clinic.objects.create(name="Alder House"), Role.MEASURER))
    before = everything()
    (tmp_path / "key").write_text("0f" * 32)
    own = {"VASLAB_SECRET_KEY": settings.SECRET_KEY, "VASLAB_BACKUP_KEY_FILE": str(tmp_path / "key")}
    elsewhere = os.environ | own | {"VASLAB_DATA_DIR": str(tmp_path / "elsewhere"), "VASLAB_DATABASE_URL": ""}

    with override_settings(BACKUP_KEY=bytes.fromhex("0f" * 32)):
        call_command("backup", str(tmp_path / "of-postgresql"), verbosity=0)
        taken = _manage("restore", tmp_path / "of-postgresql", elsewhere)
        given = _manage("backup", tmp_path / "of-sqlite", elsewhere)
        call_command("flush", interactive=False, verbosity=0)
        settings.MEDIA_ROOT = tmp_path / "emptied"
        restore(tmp_path / "of-sqlite")

    assert "Restored and compared" in taken.stdout, taken.stderr
    assert "Kept: " in given.stdout, given.stderr
    rows, files = everything()
    # Two backups and two restores have left their lines, in the chain of the service.
    assert {name for name, said in rows.items() if said != before[0][name]} == {
        "access.TrailRow",
        "access.TrailHead",
    }
    assert files == before[1]
    assert all(chain.whole for chain in verify.verify_all())


def _manage(command, folder, variables):
    return subprocess.run(
        [sys.executable, "manage.py", command, str(folder)],
        cwd=HOUSE,
        env=variables,
        capture_output=True,
        text=True,
        check=False,
    )
