"""The role matrix says at the start what is wrong with it."""

import pytest
from django.urls import reverse

from access.checks import matrix_errors
from access.matrix import matrix, read_matrix

ABILITIES = '[abilities]\n"see exam" = ["measurer"]\n'


@pytest.fixture
def rooms(tmp_path):
    """``rooms(one=..., two=...)`` reads a matrix from the roles.toml of each room named."""

    def read(**files):
        paths = []
        for room, text in files.items():
            (tmp_path / room).mkdir()
            path = tmp_path / room / "roles.toml"
            path.write_text(text, encoding="utf-8")
            paths.append(path)
        return read_matrix(paths)

    return read


def test_a_listed_url_needs_the_ability_of_its_method(rooms):
    read = rooms(one=ABILITIES, two='[urls."exam:page"]\nGET = "see exam"\n')

    assert read.urls["exam:page"].abilities == {"GET": "see exam"}
    assert read.faults == ()


def test_an_unknown_role_is_named(rooms):
    read = rooms(one='[abilities]\n"see exam" = ["measurer", "surgeon"]\n')

    assert read.faults == ("one/roles.toml gives “see exam” to “surgeon”, which is not a role.",)


def test_an_unknown_ability_is_named(rooms):
    read = rooms(one=ABILITIES, two='[urls."exam:page"]\nGET = "se exam"\n')

    assert read.faults == ("two/roles.toml: the URL “exam:page” needs “se exam”, which is not an ability.",)


def test_an_unknown_method_is_named(rooms):
    read = rooms(one=ABILITIES, two='[urls."exam:page"]\nLOOK = "see exam"\n')

    assert read.faults == ("two/roles.toml: “LOOK” of the URL “exam:page” is not a method.",)


def test_a_url_listed_by_two_rooms_is_named(rooms):
    rule = '[urls."exam:page"]\nGET = "see exam"\n'
    read = rooms(one=ABILITIES, two=rule, three=rule)

    assert read.faults == ("three/roles.toml lists the URL “exam:page”, which another room lists already.",)


def test_an_ability_defined_twice_is_named(rooms):
    read = rooms(one=ABILITIES, two=ABILITIES)

    assert read.faults == ("two/roles.toml defines the ability “see exam”, which is defined already.",)


def test_a_file_that_cannot_be_read_is_named(rooms):
    read = rooms(one="[abilities\n")

    assert read.faults[0].startswith("one/roles.toml cannot be read:")


def test_a_url_that_nobody_listed_is_named(rooms):
    errors = matrix_errors(rooms(one=ABILITIES), ["exam:page"])

    assert [error.msg for error in errors] == [
        "The URL “exam:page” is not in the role matrix, so nobody can open it."
    ]


def test_a_listed_url_that_does_not_exist_is_named(rooms):
    errors = matrix_errors(rooms(one=ABILITIES, two='[urls."exam:page"]\nGET = "see exam"\n'), [])

    assert [error.msg for error in errors] == [
        "The role matrix lists the URL “exam:page”, which does not exist."
    ]


def test_a_url_without_a_name_is_named(rooms):
    errors = matrix_errors(rooms(one=ABILITIES), [None])

    assert [error.id for error in errors] == ["access.E004"]


def test_a_page_that_is_not_in_the_matrix_is_refused(measurer, client_as, monkeypatch):
    monkeypatch.delitem(matrix().urls, "access:queue_key")

    assert client_as(measurer).get(reverse("access:queue_key")).status_code == 403


def test_a_method_that_is_not_in_the_matrix_is_not_allowed(measurer, client_as):
    assert client_as(measurer).delete(reverse("access:queue_key")).status_code == 405


def test_head_is_answered_like_get_and_never_taken_for_a_change(administrator, client_as):
    assert client_as(administrator).head(reverse("access:clinic")).status_code == 200


def test_options_is_not_allowed(administrator, client_as):
    # It needs no proof that the form is ours, so no view may ever see it.
    assert client_as(administrator).options(reverse("access:clinic")).status_code == 405
