"""Whatever is sent to a page of this room, it is answered at the field, never by a failure."""

import pytest
from django.urls import reverse

from tests.access.walk import examples
from tests.people import cast_of

NASTY = [
    "\x00",
    "’; DROP TABLE access_user; --",
    "<script>alert(1)</script>",
    "9" * 40,
    "-1",
    "ü" * 5000,
    "\u202e\U0001f9b6",
    "{{ settings.SECRET_KEY }}",
]
FORMS = {
    "access:add_member": ("full_name", "email"),
    "access:grant_role": ("role", "clinic"),
    "access:clinic": ("name", "address", "phone", "time_zone", "toes_first"),
    "access:add_clinic": ("name", "address", "phone", "time_zone", "toes_first"),
    "access:switch_clinic": ("clinic", "next"),
    "access:add_gateway": ("name", "clinic", "days"),
    "access:new_token": ("days",),
    "access:first_password": ("password", "again"),
}


@pytest.mark.parametrize("typed", NASTY)
@pytest.mark.parametrize("page", FORMS)
def test_a_form_is_answered_at_the_field(db, client_as, page, typed):
    cast = cast_of("Alder House")
    address = reverse(page, kwargs=examples(cast).get(page))

    answer = client_as(cast.system_administrator).post(address, dict.fromkeys(FORMS[page], typed))

    assert answer.status_code in (302, 422)
    assert "<script>alert" not in answer.content.decode()


@pytest.mark.parametrize("typed", NASTY)
@pytest.mark.parametrize("field", ["person", "day", "patient", "older_than", "chain"])
def test_a_question_to_the_trail_is_answered(administrator, client_as, field, typed):
    answer = client_as(administrator).get(reverse("access:trail"), {field: typed})

    assert answer.status_code in (200, 422)


@pytest.mark.parametrize("typed", NASTY)
def test_the_sign_in_page_is_answered(client, db, typed):
    answer = client.post(reverse("account_login"), {"login": typed, "password": typed, "next": typed})

    assert answer.status_code == 200


@pytest.mark.parametrize("number", ["9" * 30, "0"])
def test_an_impossible_number_in_an_address_leads_nowhere(system_administrator, client_as, number):
    assert client_as(system_administrator).get(f"/people/staff/{number}/").status_code == 404
