"""The table of security promises names tests that exist, and leaves out none of the promises."""

import re

from tests.house.files import HOUSE

ROW = re.compile(r"^\| (S\d\d) \| .+ \| (.+) \| (.*)\|$", re.MULTILINE)
ROWS = ROW.findall((HOUSE / "docs/security.md").read_text(encoding="utf-8"))


def test_each_of_the_fifty_promises_stands_there_once():
    assert [number for number, _, _ in ROWS] == [f"S{number:02}" for number in range(1, 51)]


def test_every_test_that_is_named_exists():
    named = {one for _, _, tests in ROWS for one in re.findall(r"`([^`]+)`", tests)}
    missing = []
    for one in sorted(named):
        place, _, name = one.partition("::")
        file = HOUSE / f"tests/{place}.py"
        if not file.is_file() or f"def test_{name}(" not in file.read_text(encoding="utf-8"):
            missing.append(one)

    assert missing == []


def test_a_promise_without_a_test_says_that_it_is_open():
    assert [number for number, state, tests in ROWS if not tests.strip() and "**open**" not in state] == []
