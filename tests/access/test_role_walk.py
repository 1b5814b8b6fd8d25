"""Every URL x method x role x own and other clinic, generated from the role matrix.

To add your room's pages, write ``tests/<room>/walk.py``::

    def examples(cast):
        "URL name to the values in its address, for things that cast.clinic holds."
        patient = register_patient(..., by=cast.measurer)
        return {"patients:page": {"patient_id": patient.pk}, ...}

It is called once for each of two clinics, with the people of that clinic (``tests.people.Cast``). A page
without values in its address needs no entry; one with values and without an entry fails here.

Optional: ``SERVES_ALL = {"room:page": {"system_administrator"}}`` names the roles that rightly reach that
page's things in every clinic; ``OF_ITS_SENDER = {"room:page"}`` names addresses whose thing only the device
that sent it reaches.

What must come back: signed out, the sign-in page (401 to a script); without the ability, 403; another
clinic's thing, 404; otherwise anything but 401, 403, 404 and a failure. An address for programs (`by_token`)
answers 401 to whoever brings no token, signed in or not.
"""

import importlib
from pathlib import Path

from django.db import transaction
from django.test import Client, TestCase, override_settings
from django.urls import NoReverseMatch, reverse

from access.checks import matrix_errors, url_names
from access.matrix import NOBODY, PUBLIC, matrix
from tests.people import cast_of, client_for, opens_for

WALKS = [
    importlib.import_module(f"tests.{path.parent.name}.walk")
    for path in sorted(Path(__file__).parent.parent.glob("*/walk.py"))
]
NO_COUNTING = {"default": {"BACKEND": "django.core.cache.backends.dummy.DummyCache"}}
TO_A_SCRIPT = {"HTTP_ACCEPT": "application/json"}


@override_settings(CACHES=NO_COUNTING)
class EveryPage(TestCase):
    @classmethod
    def setUpTestData(cls):
        cls.here, cls.elsewhere = cast_of("Alder House"), cast_of("Lock Street")
        cls.own, cls.other, cls.serves_all, cls.of_its_sender = {}, {}, {}, set()
        for walk in WALKS:
            cls.own |= walk.examples(cls.here)
            cls.other |= walk.examples(cls.elsewhere)
            cls.serves_all |= getattr(walk, "SERVES_ALL", {})
            cls.of_its_sender |= getattr(walk, "OF_ITS_SENDER", set())
        cls.pages = [
            (name, method, ability)
            for name, rule in sorted(matrix().urls.items())
            for method, ability in sorted(rule.abilities.items())
        ]

    def test_every_page_is_in_the_matrix_and_everything_in_it_exists(self):
        assert [str(error) for error in matrix_errors(matrix(), list(url_names()))] == []

    def test_every_page_with_values_in_its_address_has_an_example_in_both_clinics(self):
        missing = [
            name for name in matrix().urls if not (_opens(name, self.own) and _opens(name, self.other))
        ]

        assert missing == []

    def test_signed_out_a_page_leads_to_the_sign_in_and_a_script_is_told_in_place(self):
        for name, method, ability in self.pages:
            if ability == PUBLIC or not _opens(name, self.own):
                continue
            with self.subTest(page=name, method=method):
                address = reverse(name, kwargs=self.own.get(name))
                if not matrix().urls[name].by_token:
                    led_to = Client().generic(method, address).headers["Location"]
                    assert led_to.startswith("/accounts/login/")
                assert Client().generic(method, address, **TO_A_SCRIPT).status_code == 401

    def test_without_the_ability_a_page_is_refused(self):
        for name, method, ability in self.pages:
            for who in self.here.asking(name):
                if opens_for(who, name, ability) or not _opens(name, self.own):
                    continue
                with self.subTest(page=name, method=method, roles=sorted(who.roles)):
                    refused = 401 if matrix().urls[name].by_token and who.user.signs_in else 403
                    assert self._ask(who, method, name, self.own) == refused

    def test_a_thing_of_another_clinic_is_not_found(self):
        for name, method, ability in self.pages:
            for who in self.here.asking(name):
                if (
                    ability in (PUBLIC, NOBODY)
                    or name not in self.other
                    or not opens_for(who, name, ability)
                    or who.roles & self.serves_all.get(name, set())
                ):
                    continue
                with self.subTest(page=name, method=method, roles=sorted(who.roles)):
                    assert self._ask(who, method, name, self.other) == 404

    def test_a_thing_of_another_patient_or_exam_is_not_found_under_this_ones_address(self):
        # The report's exam and the timeline's patient are others than those of the sheet and the register.
        elsewhere = self.own["timeline:patient"] | self.own["documents:exam"]
        for name, method, ability in self.pages:
            of_two = [key for key in self.own.get(name, {}) if key.endswith("_id")]
            if len(of_two) < 2:
                continue
            crossed = {key: elsewhere.get(key, value) for key, value in self.own[name].items()}
            assert crossed != self.own[name]
            who = next(one for one in self.here.asking(name) if opens_for(one, name, ability))
            with self.subTest(page=name, method=method):
                assert self._ask(who, method, name, {name: crossed}) == 404

    def test_with_the_ability_a_page_opens(self):
        for name, method, ability in self.pages:
            for who in self.here.asking(name):
                if not opens_for(who, name, ability) or not _opens(name, self.own):
                    continue
                with self.subTest(page=name, method=method, roles=sorted(who.roles)):
                    status = self._ask(who, method, name, self.own)
                    assert status < 500
                    if name in self.of_its_sender and who != self.here.gateway:
                        assert status == 404
                    else:
                        assert status not in (401, 403, 404)

    def _ask(self, who, method, name, kwargs_of):
        # What one request changes must not be there for the next.
        before = transaction.savepoint()
        try:
            address = reverse(name, kwargs=kwargs_of.get(name))
            return client_for(who).generic(method, address).status_code
        finally:
            transaction.savepoint_rollback(before)


def _opens(name, examples):
    """Whether an address can be made for this page. One that does not exist is reported by the first test."""
    try:
        return bool(reverse(name, kwargs=examples.get(name)))
    except NoReverseMatch:
        return False
