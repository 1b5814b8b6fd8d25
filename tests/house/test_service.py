"""The service on machines of its own: its parts, how they are watched, where their secrets lie."""

import re
import runpy
import subprocess
import sys
from datetime import timedelta

import pytest
import yaml
from compose_spec import PyCompose
from django.core.exceptions import ImproperlyConfigured
from django.core.files.storage import default_storage
from django.db import DatabaseError, connection
from django.db.migrations.recorder import MigrationRecorder

from access import clock
from tests.house.files import HOUSE
from vaslab import env
from vaslab import settings as site

COMPOSE = yaml.safe_load((HOUSE / "docker-compose.yml").read_text())
OURS = ("prepare", "web", "worker", "scheduler")


def test_the_compose_file_follows_its_specification():
    # Written out again because the checker knows no merge keys (`<<`), which every engine does.
    PyCompose.from_yaml(yaml.safe_dump(COMPOSE))


def test_a_misspelt_key_in_a_compose_file_would_be_found():
    with pytest.raises(ValueError, match="comand"):
        PyCompose.from_yaml("services:\n  web:\n    image: a\n    comand: b\n")


def test_what_one_part_of_the_compose_file_names_of_another_is_there():
    parts, wanted = (
        COMPOSE["services"],
        {"secrets": set(), "networks": set(), "volumes": set(), "parts": set()},
    )
    for part in parts.values():
        wanted["secrets"] |= set(part.get("secrets", []))
        wanted["networks"] |= set(part.get("networks", []))
        wanted["volumes"] |= {one.partition(":")[0] for one in part.get("volumes", [])}
        wanted["parts"] |= set(part.get("depends_on", {}))

    assert wanted == {
        "secrets": set(COMPOSE["secrets"]),
        "networks": set(COMPOSE["networks"]),
        "volumes": set(COMPOSE["volumes"]),
        "parts": {"prepare", "database", "broker"},
    }


def test_every_part_waits_for_what_is_watched_or_ended():
    conditions = {
        (on, said["condition"])
        for part in COMPOSE["services"].values()
        for on, said in part.get("depends_on", {}).items()
    }

    assert conditions == {
        ("database", "service_healthy"),
        ("broker", "service_healthy"),
        ("prepare", "service_completed_successfully"),
    }
    assert all("healthcheck" in COMPOSE["services"][name] for name in ("database", "broker"))


def test_the_image_and_the_compose_file_speak_of_one_user_folder_and_port():
    image = (HOUSE / "Dockerfile").read_text()

    assert "--uid 10001" in image
    assert "USER vaslab" in image
    assert "VASLAB_DATA_DIR=/data" in image
    assert all(COMPOSE["services"][name]["volumes"] == ["files:/data"] for name in OURS)
    assert COMPOSE["services"]["web"]["ports"][0].endswith(":8000")
    assert ":8000/ready" in COMPOSE["services"]["web"]["healthcheck"]["test"][-1]
    copied = re.search(r"^COPY (.+) \./$", image, re.MULTILINE)[1].split()
    assert all((HOUSE / name).is_file() for name in copied)


def test_gunicorn_takes_its_settings_and_loads_the_service():
    checked = subprocess.run(
        [sys.executable, "-m", "gunicorn", "--check-config", "--bind", "0.0.0.0:8000"],
        cwd=HOUSE,
        capture_output=True,
        text=True,
        check=False,
    )

    assert checked.returncode == 0, checked.stderr


def test_every_part_that_runs_on_is_watched():
    assert set(COMPOSE["services"]) == {*OURS, "database", "broker"}
    assert all("healthcheck" in part for name, part in COMPOSE["services"].items() if name != "prepare")


def test_no_secret_stands_in_the_compose_file_or_in_an_environment():
    known = {name: part.get("environment", {}) for name, part in COMPOSE["services"].items()}

    assert all("SECRET" not in name or name.endswith("_FILE") for part in known.values() for name in part)
    assert ":" not in known["web"]["VASLAB_DATABASE_URL"].removeprefix("postgres://").partition("@")[0]
    assert set(COMPOSE["secrets"]) == {"secret_key", "database_password", "backup_key"}
    assert all(set(COMPOSE["services"][name]["secrets"]) == set(COMPOSE["secrets"]) for name in OURS)


def test_every_variable_of_the_compose_file_is_one_the_service_reads():
    source = (HOUSE / "vaslab/env.py").read_text()

    assert all(f'"{name}"' in source for name in COMPOSE["services"]["web"]["environment"])


def test_neither_database_nor_broker_can_be_reached_from_outside():
    inner = [COMPOSE["services"][name] for name in ("database", "broker")]

    assert all(part["networks"] == ["inside"] and "ports" not in part for part in inner)
    assert COMPOSE["networks"]["inside"]["internal"] is True


def test_gunicorn_reads_its_settings_and_logs_no_address(monkeypatch):
    monkeypatch.setattr(env, "WEB_PROCESSES", 3)

    read = runpy.run_path(str(HOUSE / "gunicorn.conf.py"))

    assert (read["wsgi_app"], read["workers"], read["accesslog"]) == ("vaslab.wsgi", 3, None)


def test_a_secret_is_read_from_the_file_a_variable_names(tmp_path, monkeypatch):
    kept = tmp_path / "secret"
    kept.write_text("fen and ford\n")
    monkeypatch.setenv("VASLAB_SECRET_KEY_FILE", str(kept))

    assert env._from_file("VASLAB_SECRET_KEY_FILE") == "fen and ford"


def test_a_secret_file_that_is_missing_stops_the_start_by_its_variables_name(tmp_path, monkeypatch):
    monkeypatch.setenv("VASLAB_SECRET_KEY_FILE", str(tmp_path / "none"))

    with pytest.raises(ImproperlyConfigured, match="VASLAB_SECRET_KEY_FILE"):
        env._from_file("VASLAB_SECRET_KEY_FILE")


@pytest.mark.parametrize("address", ["https://store.example/files", "s3://store.example/", "s3:///files"])
def test_an_address_of_a_store_that_cannot_be_used_is_refused(address, monkeypatch):
    monkeypatch.setenv("VASLAB_FILES_URL", address)

    with pytest.raises(ImproperlyConfigured, match="VASLAB_FILES_URL"):
        env._files_store()


def test_a_process_lives_even_without_its_database(client):
    # No database mark: a query would fail this test.
    assert client.get("/health").json()["status"] == "well"


@pytest.mark.django_db
def test_a_service_in_order_is_ready(client):
    answer = client.get("/ready")

    parts = dict.fromkeys(("database", "clock", "migrations", "broker", "files"), "well")
    assert (answer.status_code, answer.json()) == (200, {"status": "ready", **parts})


@pytest.mark.django_db
def test_a_migration_that_waits_is_said(client):
    MigrationRecorder(connection).record_unapplied("access", "0001_initial")

    answer = client.get("/ready")

    assert (answer.status_code, answer.json()["migrations"]) == (503, "1 to apply: python manage.py migrate")


@pytest.mark.django_db
def test_a_database_that_is_away_is_said_without_its_words(client):
    def away(execute, sql, params, many, context):
        raise DatabaseError("password of database.example")

    with connection.execute_wrapper(away):
        answer = client.get("/ready")

    assert (answer.status_code, answer.json()["database"]) == (503, "does not answer")
    assert "example" not in answer.text


@pytest.mark.postgres
@pytest.mark.django_db
def test_a_clock_apart_from_the_databases_is_said(client):
    with clock.at(clock.now() + timedelta(hours=1)):
        answer = client.get("/ready")

    assert answer.status_code == 503
    assert answer.json()["clock"].endswith(" s apart from the database's: let NTP set both")


def test_the_service_writes_to_nobody():
    assert site.EMAIL_BACKEND == "django.core.mail.backends.dummy.EmailBackend"


@pytest.mark.django_db
def test_a_folder_of_files_that_cannot_be_written_to_is_said(client, tmp_path, settings):
    (tmp_path / "a file").touch()
    settings.MEDIA_ROOT = tmp_path / "a file"

    answer = client.get("/ready")

    assert (answer.status_code, answer.json()["files"]) == (503, "cannot be written to")
    assert default_storage.location == str(tmp_path / "a file")
