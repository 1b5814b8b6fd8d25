"""The commands of image and compose file, run as processes here: with secrets in files, outside the demo.

What an engine adds (building the image, networks, restarts, read-only folders) is not tried by this.
"""

import json
import re
import socket
from urllib.request import Request, urlopen

import pytest
import yaml
from django.conf import settings
from django.utils.crypto import get_random_string

from reports.documents.models import Document
from tests.build import whole_exam
from tests.documents.make import make
from tests.house.files import HOUSE
from tests.processes import _free_port, process, until

pytestmark = [pytest.mark.workers, pytest.mark.postgres, pytest.mark.django_db(transaction=True)]

PARTS = yaml.safe_load((HOUSE / "docker-compose.yml").read_text())["services"]


def command_of(name):
    """The command of a part, without the word "python"; the web's stands in the image."""
    command = PARTS[name].get("command")
    if command is None:
        image = (HOUSE / "Dockerfile").read_text()
        command = json.loads(re.search(r"^CMD (.+)$", image, re.MULTILINE)[1])
    return command[1:] if command[0] == "python" else command


@pytest.fixture
def secrets(tmp_path):
    """As the compose file gives them: each a file, its place in a variable."""
    given = {}
    for variable, place in PARTS["web"]["environment"].items():
        if place.startswith("/run/secrets/"):
            file = tmp_path / place.rpartition("/")[2]
            file.write_text(get_random_string(64, "0123456789abcdef"))
            given[variable] = str(file)
    del given["VASLAB_DATABASE_PASSWORD_FILE"]  # the test's database asks for none
    return given | {"VASLAB_DEMO": "0", "VASLAB_HOSTS": "vaslab.example", "VASLAB_PROXIES": "1"}


def test_web_worker_and_scheduler_of_the_compose_file_serve_print_and_show_that_they_live(
    measurer, secrets, monkeypatch
):
    quick = secrets | {"VASLAB_JOB_SWEEP_SECONDS": "0.2", "VASLAB_JOB_WAIT_SECONDS": "0.5"}
    alive = settings.DATA_DIR / "alive" / socket.gethostname()
    alive.unlink(missing_ok=True)
    port = _free_port()
    web = [one.replace("0.0.0.0:8000", f"127.0.0.1:{port}") for one in command_of("web")]

    with process(*command_of("scheduler"), **quick):
        until(alive.exists, what="the scheduler's sign of life")
    alive.unlink()
    with process(*web, **quick), process(*command_of("worker"), **quick):
        report = make(whole_exam(measurer), measurer)
        until(lambda: _ready(port), what="the web's readiness")
        until(lambda: Document.objects.get(pk=report.pk).pdf, what="the worker's print")
        until(alive.exists, what="the worker's sign of life")
        page = urlopen(Request(f"http://127.0.0.1:{port}/accounts/login/", headers=_THROUGH_A_PROXY))

    assert page.status == 200
    assert "max-age" in page.headers["Strict-Transport-Security"]


_THROUGH_A_PROXY = {"Host": "vaslab.example", "X-Forwarded-Proto": "https", "X-Forwarded-For": "192.0.2.7"}


def _ready(port):
    try:
        return urlopen(f"http://127.0.0.1:{port}/ready").status == 200
    except OSError:
        return False
