"""Whatever is sent to any page that takes something, it is answered; never by a failure of ours.

The forms are those that the pages really show: every page is opened by everyone who may, its forms are read
out of the HTML, and each is sent back with odd things in some of its fields while the others keep what stood
there, so that the odd thing gets past the first check. What is odd where is drawn from a seed made of the
page's name: the same in every run.
"""

import random
from html.parser import HTMLParser
from http.cookies import SimpleCookie

from django.db import transaction
from django.test import Client, TestCase, override_settings
from django.urls import Resolver404, resolve, reverse

from access.matrix import NOBODY, PUBLIC, matrix
from access.permissions import passes_url
from tests.access.test_role_walk import NO_COUNTING, WALKS, _opens
from tests.people import cast_of, signed_in_client

ODD = [
    "",
    " ",
    "\x00",
    "a\x00b",
    "-1",
    "0",
    "9" * 10,
    str(2**63),
    "9" * 400,
    "1e400",
    "NaN",
    "Infinity",
    "0x10",
    "١٢٣",  # digits, but not ours
    "12,5",
    "\U0001f9b6\u200d\u202e",
    "\ud800",  # half a character
    "ü" * 20_000,
    "<script>alert(1)</script>",
    "'; --",
    "{{ settings.SECRET_KEY }}",
    "[]",
    '{"a": 1}',
    "0001-01-01",
    "9999-12-31",
    "2026-02-30",
    "9999-12-31T23:59",
    "0001-01-01T00:00",
    "24:61",
    "true",
    "../../etc/passwd",
]
TRIES = 4
# Each page is sent some of them, all of them are sent to some page.
BODIES = 3
# Sent by scripts, so no form on a page shows all of their fields.
FURTHER = {
    "typed": "2",
    "client_id": "7f8d3f8e-5ad8-4c12-9d2e-0f4f6a0d7c12",
    "seen_revision": "0",
    "typed_at": "",
    "author": "",
}
BY_SCRIPT = {
    "visits:further_save": {"field": "after.1.time", **FURTHER},
    "visits:category_save": {"field": "right.rutherford", **FURTHER},
    "visits:save": {
        "field": "right.toe_1.1",
        "typed": "48",
        "client_id": "7f8d3f8e-5ad8-4c12-9d2e-0f4f6a0d7c11",
        "seen_revision": "0",
        "technique": "",
        "typed_at": "",
        "author": "",
    },
}
# Forms that this cast, just signed in and with nothing amiss, is not shown.
NOT_SHOWN = {
    "audit:ask_for_approval": {"because": "for the walk"},
    "audit:ask_for_names": {"year": "year-2026-04", "form": "csv", "purpose": "a", "legal_basis": "b"},
    "audit:decide": {"decision": "approve", "because": "for the walk"},
    "audit:link": {},
    "audit:take": {"token": "a"},
    "exchange:take_back": {"because": "wrong ward"},
    "wounds:salvage": {"holds": "yes", "because": "no artery left to open"},
    "visits:agreement": {"study": "spring", "first": "1", "recuffed_by": "1", "recuffed": "on"},
    "visits:category_correct": {"typed": "III", "reason": "asked again", "seen": "0"},
    "access:new_token": {"days": "90"},
    "access:revoke_token": {},
    "access:enable_member": {},
    "access:sign_ins": {"sign_in": "all"},
    "account_change_password": {"oldpassword": "a", "password1": "b", "password2": "b"},
    "account_login": {"login": "mina@fenmarsh.example", "password": "a", "next": "/"},
    "account_reauthenticate": {"password": "a", "next": "/"},
    "jobs:try_again": {},
    "letters:again": {},
    "access:remove_passkey": {"passkey": "1"},
    "access:unlock": {"typed": "a", "credential": "{}", "next": "/"},
    "mfa_activate_totp": {"code": "000000"},
    "mfa_add_webauthn": {"name": "my phone", "credential": "{}"},
    "mfa_login_webauthn": {"credential": "{}", "next": "/"},
    "mfa_reauthenticate_webauthn": {"credential": "{}", "next": "/"},
    "mfa_authenticate": {"code": "000000"},
    "mfa_reauthenticate": {"code": "000000", "next": "/"},
    "traces:blind": {
        "analysis": "1",
        "verdict": "good",
        "mark": "",
        "pressure": "62",
        "time_s": "",
        "reason": "",
    },
    "traces:live": {},
}
NUMBERS = ["0", str(2**31), str(2**63), "9" * 40]


class Forms(HTMLParser):
    """Where the forms of a page lead, and what stands in their fields."""

    def __init__(self, page):
        super().__init__()
        self.found = []
        self.feed(page)

    def handle_starttag(self, tag, attributes):
        said = dict(attributes)
        if tag == "form":
            self.found.append((said.get("method", "get").lower(), said.get("action") or "", {}))
        elif self.found and tag in ("input", "textarea", "select", "button") and said.get("name"):
            fields = self.found[-1][2]
            chosen = said.get("type") not in ("radio", "checkbox") or "checked" in said
            if chosen or said["name"] not in fields:
                fields[said["name"]] = said.get("value") or ""
            self._select = said["name"] if tag == "select" else None
        elif self.found and tag == "option" and self._select and said.get("value"):
            self.found[-1][2][self._select] = said["value"]


@override_settings(CACHES=NO_COUNTING)
class EveryForm(TestCase):
    @classmethod
    def setUpTestData(cls):
        cls.cast = cast_of("Alder House")
        cls.examples = {}
        for walk in WALKS:
            cls.examples |= walk.examples(cls.cast)
        # What programs send is tried in tests/traces/test_api.py.
        listed = sorted(matrix().urls.items())
        cls.pages = [(name, rule.abilities) for name, rule in listed if not rule.by_token]
        cls.cookies = {who.user.pk: signed_in_client(who).cookies for who in cls.cast.everyone()}
        cls.forms = cls._forms_shown()

    @classmethod
    def _forms_shown(cls):
        """Page that takes a form, to the address and fields it is sent with."""
        shown = {}
        for name, abilities in cls.pages:
            if not _opens(name, cls.examples) or "GET" not in abilities:
                continue
            address = reverse(name, kwargs=cls.examples.get(name))
            # Between them these are shown every form there is.
            shown_to = (cls.cast.measurer, cls.cast.administrator, cls.cast.system_administrator)
            for who in (
                *shown_to,
                *([cls.cast.reporter] if name.startswith(("identity:", "followup:")) else []),
            ):
                if not passes_url(who, abilities["GET"]) or name == "account_login":
                    continue
                client = Client()
                client.cookies = SimpleCookie(cls.cookies[who.user.pk].output(header="", sep=";"))
                answer = client.get(address)
                if not answer.headers.get("Content-Type", "").startswith("text/html"):
                    continue
                for method, action, fields in Forms(answer.content.decode()).found:
                    leads_to = _name_of(action or address)
                    if method == "post" and leads_to:
                        shown.setdefault(leads_to, {})[action or address] = fields
        return shown

    def test_the_fields_of_every_page_that_takes_something_are_known(self):
        taking = {name for name, abilities in self.pages if abilities.get("POST") not in (None, NOBODY)}

        assert taking - set(self.forms) - set(BY_SCRIPT) - set(NOT_SHOWN) == set()

    def test_whatever_is_sent_is_answered(self):
        for name, abilities in self.pages:
            ability = abilities.get("POST")
            if ability in (None, NOBODY) or not _opens(name, self.examples):
                continue
            chance = random.Random(name)
            address = reverse(name, kwargs=self.examples.get(name))
            typed = (BY_SCRIPT | NOT_SHOWN).get(name)
            forms = self.forms.get(name, {}) if typed is None else {address: typed}
            for action, fields in sorted(forms.items()):
                for _ in range(TRIES):
                    odd = {key for key in fields if chance.random() < max(0.3, 1.5 / (len(fields) or 1))}
                    sent = {key: chance.choice(ODD) if key in odd else value for key, value in fields.items()}
                    with self.subTest(page=name, sent=sent):
                        assert self._post(ability, action, _encoded(sent)) < 500

    def test_a_body_that_is_not_a_form_is_answered(self):
        bodies = [
            (b"\xff\xfe=%ff%00&typed=%c3%28&q=%ed%a0%80", "application/x-www-form-urlencoded"),
            (b"a=1;b=2", "application/x-www-form-urlencoded; charset=utf-16"),
            (b"a=1", "application/x-www-form-urlencoded; charset=nonsense"),
            (b"--x\r\nContent-Disposition: form-data; name=", "multipart/form-data; boundary=x"),
            (b"--x", "multipart/form-data"),
            (b"[" * 5000, "application/json"),
            (b"<a/>", "text/xml"),
            (b"&".join(b"f%d=1" % n for n in range(1200)), "application/x-www-form-urlencoded"),
        ]
        too_much = b"typed=" + b"9" * 2_700_000
        form = "application/x-www-form-urlencoded"
        assert self._post("signed in", reverse("access:switch_clinic"), too_much, form) == 400
        for name, abilities in self.pages:
            ability = abilities.get("POST")
            if ability in (None, NOBODY) or not _opens(name, self.examples):
                continue
            for body, kind in random.Random(name).sample(bodies, BODIES):
                with self.subTest(page=name, kind=kind, body=body[:30]):
                    address = reverse(name, kwargs=self.examples.get(name))
                    assert self._post(ability, address, body, kind) < 500

    def test_an_odd_question_in_an_address_is_answered(self):
        asked = ("q", "with", "chain", "day", "patient", "older_than", "person", "next", "limb")
        for name, abilities in self.pages:
            ability = abilities.get("GET")
            if ability in (None, NOBODY) or not _opens(name, self.examples):
                continue
            chance = random.Random(name)
            for _ in range(2):
                query = {key: chance.choice(ODD)[:500] for key in asked}
                with self.subTest(page=name, query=query):
                    address = reverse(name, kwargs=self.examples.get(name))
                    assert self._get(ability, f"{address}?{_encoded(query).decode()}") < 500

    def test_an_impossible_number_in_an_address_leads_nowhere(self):
        for name, abilities in self.pages:
            given = self.examples.get(name, {})
            numbers = [key for key, value in given.items() if isinstance(value, int)]
            for method, ability in abilities.items():
                for key in numbers:
                    for number in NUMBERS:
                        with self.subTest(page=name, method=method, number=number):
                            address = reverse(name, kwargs=given | {key: number})
                            ask = self._get if method == "GET" else self._post
                            assert ask(ability, address) == 404

    def _post(self, ability, address, body=b"", kind="application/x-www-form-urlencoded"):
        return self._ask("POST", ability, address, body, kind)

    def _get(self, ability, address):
        return self._ask("GET", ability, address)

    def _ask(self, method, ability, address, body=b"", kind="application/octet-stream"):
        who = next((one for one in self.cast.everyone() if passes_url(one, ability)), None)
        client = Client(raise_request_exception=False)
        if ability != PUBLIC:
            client.cookies = SimpleCookie(self.cookies[who.user.pk].output(header="", sep=";"))
        before = transaction.savepoint()
        try:
            return client.generic(method, address, body, kind).status_code
        finally:
            transaction.savepoint_rollback(before)


def _name_of(address):
    try:
        return resolve(address.split("?")[0]).view_name
    except Resolver404:
        return None


def _encoded(fields):
    """As a browser would, except that half a character stays half."""
    from urllib.parse import urlencode

    return urlencode(fields, errors="surrogatepass").encode()
