"""What may stand in the files we serve and commit."""

import hashlib
import io
import json
import re
import subprocess
import tomllib

import pytest
from django.core.management import call_command

from tests.house.files import HOUSE, files, name
from vaslab.management.commands.bill_of_materials import NOT_DECLARED

VENDOR = HOUSE / "vaslab/static/vaslab/vendor"
TEMPLATES = files("templates/*.html", "*/templates/*.html")
OUR_OWN_STATIC = files("vaslab/static/*.js", "vaslab/static/*.css", "vaslab/static/*.svg")

INLINE = re.compile(
    r"<script(?![^>]*\bsrc=)(?![^>]*type=\"application/json\")[^>]*>"  # a script in the page
    r"|<style\b"  # a style sheet in the page
    r"|\sstyle\s*="  # a style on an element
    r"|\son[a-z]+\s*="  # a handler on an element
    r"|javascript:",
    re.IGNORECASE,
)
SECRET = re.compile(
    r"-----BEGIN [A-Z ]*PRIVATE KEY-----|\bAKIA[0-9A-Z]{16}\b"
    r"|(?:secret|token|password|key)[a-z_]*[\"']?\s*[:=]\s*[\"'][A-Za-z0-9+/_=-]{32,}[\"']",
    re.IGNORECASE,
)
PICTURES = {".png", ".woff2", ".ttf"}
ELSEWHERE = re.compile(r"(?:https?:)?//(?!www\.w3\.org/)[a-z0-9-]+\.[a-z]{2,}", re.IGNORECASE)


def lines_with(pattern, paths):
    return [
        f"{name(path)}:{number}: {line.strip()}"
        for path in paths
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1)
        if pattern.search(line)
    ]


def test_no_page_holds_a_script_a_style_or_a_handler_of_its_own():
    # The printed report is no page: its style sheet is inside it and no browser loads it.
    pages = [path for path in TEMPLATES if path.name != "report.html"]

    assert lines_with(INLINE, pages) == []


def test_no_page_script_or_style_sheet_names_another_host():
    assert lines_with(ELSEWHERE, [*TEMPLATES, *OUR_OWN_STATIC]) == []


def test_the_search_for_inline_scripts_finds_one():
    assert INLINE.search('<button onclick="go()">')
    assert INLINE.search("<script>go()</script>")
    assert INLINE.search('<p style="color: red">')
    assert not INLINE.search('<script src="/static/page.js" type="module"></script>')


def test_every_vendored_file_is_listed_with_its_hash_and_unchanged():
    listed = tomllib.loads((VENDOR / "VENDORED.toml").read_text())["file"]
    present = {
        str(path.relative_to(VENDOR)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in VENDOR.rglob("*")
        if path.is_file() and path.name != "VENDORED.toml"
    }

    assert {entry["path"]: entry["sha256"] for entry in listed} == present
    assert all(entry["package"] and entry["version"] and entry["licence"] for entry in listed)


@pytest.mark.parametrize("lock", ["requirements.lock", "requirements-test.lock", "requirements-tools.lock"])
def test_a_lock_names_versions_and_hashes_but_no_host(lock):
    text = (HOUSE / lock).read_text()
    packages = re.findall(r"^[a-z0-9][^ ]*==[^ ;\\]+", text, re.MULTILINE)
    bare = re.findall(r"^[a-z0-9][^\n]*[^\\\n]$", text, re.MULTILINE)

    assert "://" not in text
    assert packages
    assert bare == [], "a package without a hash"


def test_the_run_lock_is_part_of_the_test_lock():
    locks = [
        set(re.findall(r"^[a-z0-9][^ ]*==[^ ;\\]+", (HOUSE / lock).read_text(), re.MULTILINE))
        for lock in ("requirements.lock", "requirements-test.lock")
    ]

    assert locks[0] <= locks[1]


def test_no_file_holds_a_key_or_a_password():
    text = [path for path in files("*") if path.suffix not in PICTURES]

    assert lines_with(SECRET, text) == []


def test_the_search_for_secrets_finds_them():
    marked = "-----BEGIN " + "PRIVATE KEY-----"
    assert SECRET.search(marked)
    assert SECRET.search('SECRET_KEY = "' + "aB3-" * 9 + '"')
    assert not SECRET.search('password = "a walk along the quiet fen"')


def test_the_bill_of_materials_names_every_package_with_its_licence():
    written = io.StringIO()
    call_command("bill_of_materials", stdout=written)
    bill = json.loads(written.getvalue())

    named = {one["name"]: one["licenses"][0]["license"]["name"] for one in bill["components"]}
    lock = set(re.findall(r"^([a-z0-9._-]+)==", (HOUSE / "requirements.lock").read_text(), re.MULTILINE))
    assert {"django", "plotly.js-basic-dist-min"} <= set(named)
    # Left out: what is only for other systems or Pythons.
    assert lock - set(named) <= {"async-timeout", "brotli", "brotlicffi", "colorama", "tzdata"}
    # Its licence is a file in the package and stands nowhere else in it.
    assert [name for name, licence in named.items() if licence == NOT_DECLARED] == ["resvg-py"]


def test_no_file_stands_in_two_languages_of_line_ends():
    ours = [
        path
        for path in files("*.py", "*.html", "*.js", "*.css", "*.md", "*.toml", "run")
        if b"\r" in path.read_bytes()
    ]

    assert ours == []


def test_a_script_that_is_started_may_be_executed():
    listed = subprocess.run(
        ["git", "ls-files", "--stage", "run", ".ci/run", "manage.py"],
        cwd=HOUSE,
        capture_output=True,
        text=True,
        check=True,
    )

    assert [line.split()[0] for line in listed.stdout.splitlines()] == ["100755"] * 3
