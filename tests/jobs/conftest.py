import json
from base64 import b64decode

import pytest
from django.conf import settings

from vaslab import queue


@pytest.fixture
def sent():
    """The numbers of the jobs whose messages lie in the spool, oldest first."""
    folder = settings.DATA_DIR / "spool" / "celery"

    def read():
        messages = [json.loads(path.read_text()) for path in sorted(folder.glob("*.message"))]
        return [json.loads(b64decode(message["body"]))[0][0] for message in messages]

    assert queue.broker_url.startswith("spool:"), "these tests read the spool's files"
    for path in folder.glob("*"):
        path.unlink()
    return read
