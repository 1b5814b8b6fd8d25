"""The broker of files under stress: several senders and takers, every message exactly once."""

import subprocess
import sys
from queue import Empty

import pytest

from tests.processes import HOUSE
from vaslab import spool

SEND = """
import sys; from pathlib import Path; from vaslab import spool
for number in range(int(sys.argv[3])):
    spool.put(Path(sys.argv[1]), {"from": sys.argv[2], "number": number})
"""

TAKE = """
import sys; from pathlib import Path; from queue import Empty; from vaslab import spool
folder, stop = Path(sys.argv[1]), Path(sys.argv[2])
while True:
    last = stop.exists()
    try:
        message = spool.take(folder)
        print(message["from"], message["number"], flush=True)
    except Empty:
        if last:
            break
"""


def test_messages_are_taken_in_the_order_they_were_put(tmp_path):
    spool.put(tmp_path, {"number": 1})
    spool.put(tmp_path, {"number": 2})

    assert [spool.take(tmp_path), spool.take(tmp_path)] == [{"number": 1}, {"number": 2}]


def test_a_message_is_taken_once(tmp_path):
    spool.put(tmp_path, {"number": 1})
    spool.take(tmp_path)

    with pytest.raises(Empty):
        spool.take(tmp_path)


def test_half_a_message_is_never_read(tmp_path):
    (tmp_path / "00000000000000000001-a.part").write_text('{"number"')

    with pytest.raises(Empty):
        spool.take(tmp_path)


@pytest.mark.workers
def test_two_senders_and_two_workers_pass_every_message_exactly_once(tmp_path):
    folder, stop = tmp_path / "queue", tmp_path / "stop"
    takers = [_python(TAKE, folder, stop) for _ in range(2)]
    senders = [_python(SEND, folder, name, 500) for name in ("one", "two")]

    for sender in senders:
        sender.wait(timeout=60)
    stop.touch()
    taken = [line for taker in takers for line in taker.communicate(timeout=60)[0].splitlines()]

    assert [taker.returncode for taker in takers] == [0, 0]
    assert sorted(taken) == sorted(f"{name} {number}" for name in ("one", "two") for number in range(500))


def _python(code, *arguments):
    command = [sys.executable, "-c", code, *map(str, arguments)]
    return subprocess.Popen(command, cwd=HOUSE, stdout=subprocess.PIPE, text=True)
