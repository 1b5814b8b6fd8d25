"""Every page leaves exactly its line in the trail, and names patients only to who cares for them.

The lines are compared with a table, so a new page fails here until somebody has said what it must leave.
"""

import re

from django.db import transaction
from django.test import TestCase, override_settings
from django.urls import reverse

from access.matrix import NOBODY, PUBLIC, matrix
from access.models import TrailRow
from exams.patients.models import Identifier, Patient
from tests.access.test_role_walk import NO_COUNTING, WALKS, _opens
from tests.people import cast_of, client_for, opens_for

# Page opened by its first role -> its line, and whether that names the patient's number.
LINES = {
    "audit:compare": ("audit periods compared", False),
    "audit:draft": ("draft criteria viewed", False),
    "audit:draft_file": None,  # only of an approved draft: tests/audit/test_drafts.py
    "audit:measure": ("audit measure viewed", False),
    "audit:overview": ("audit figures viewed", False),
    "audit:people": ("audit figures by person viewed", False),
    "audit:quality": ("data quality viewed", False),
    "audit:quality_list": ("list of records to mend viewed", False),
    "audit:report_pdf": None,  # not there before a worker has made it: tests/audit/test_reports.py
    "audit:rows": ("audit rows viewed", False),
    "audit:what_if": ("what-if of the criteria viewed", False),
    "documents:document": ("report viewed", True),
    "audit_api:measures": ("audit figures read by a program", False),
    "audit_api:measure": ("audit figures read by a program", False),
    "documents_api:pdf": None,
    "documents_api:report": ("report read by a program", True),
    "documents_api:reports": ("list of reports read by a program", False),
    "patients_api:caution": ("cautions read by a program", True),
    "patients_api:cautions": ("cautions read by a program", True),
    "patients_api:identifier": ("identifiers read by a program", True),
    "patients_api:identifiers": ("identifiers read by a program", True),
    "patients_api:fact": ("facts of limbs read by a program", True),
    "patients_api:facts": ("facts of limbs read by a program", True),
    "patients_api:patient": ("patient read by a program", True),
    "patients_api:patients": ("list of patients read by a program", False),
    "followup_api:promise": ("promise read by a program", True),
    "followup_api:promises": ("list of promises read by a program", False),
    "followup_api:recall": ("recall read by a program", True),
    "followup_api:recalls": ("list of recalls read by a program", False),
    "followup_api:referral": ("referral read by a program", True),
    "followup_api:referrals": ("list of referrals read by a program", False),
    "traces_api:send": ("list of traces read by a program", False),
    "traces_api:trace": ("trace read by a program", True),
    "wounds_api:assessment": ("wound assessments read by a program", True),
    "wounds_api:assessments": ("wound assessments read by a program", True),
    "wounds_api:photograph": ("wound photographs read by a program", True),
    "wounds_api:photographs": ("wound photographs read by a program", True),
    "wounds_api:picture": ("wound photograph downloaded by a program", True),
    "wounds_api:wound": ("wound read by a program", True),
    "wounds_api:wounds": ("list of wounds read by a program", False),
    "visits_api:exam": ("exam read by a program", True),
    "visits_api:exam_findings": ("findings read by a program", True),
    "visits_api:exams": ("list of exams read by a program", False),
    "visits_api:findings": ("list of findings read by a program", False),
    "visits_api:further_test": ("further tests read by a program", True),
    "visits_api:further_tests": ("further tests read by a program", True),
    "visits_api:hand_over": ("hand-over read by a program", True),
    "visits_api:hand_overs": ("list of hand-overs read by a program", False),
    "visits_api:reading": ("reading read by a program", True),
    "visits_api:readings": ("list of readings read by a program", False),
    "documents:list": ("list of reports viewed", False),
    "documents:make": ("report conclusion opened", True),
    "documents:pdf": None,  # not there before a worker has made it: tests/documents/test_pages.py
    "access:trail": ("trail read", False),
    "identity:compare": ("records compared", True),
    "identity:duplicates": ("list of likely duplicates viewed", False),
    "identity:merge": ("merge viewed", True),
    "identity:record": ("identity of a record viewed", True),
    "identity:wrong_person": ("page for an exam of the wrong person viewed", True),
    "followup:patient": ("follow-up viewed", True),
    "followup:recall": ("recall viewed", True),
    "followup:recall_list": ("recall list viewed", False),
    "followup:refer": ("new referral opened", True),
    "followup:referral": ("referral viewed", True),
    "followup:referrals": ("list of referrals viewed", False),
    "letters:pdf": ("referral letters viewed", True),  # not there before a worker has made it
    "letters:referral": ("referral letters viewed", True),
    "exchange:columns": ("columns of a table viewed", False),
    "exchange:error_sheet": ("rows of a table taken to be mended", False),
    "exchange:table": ("table viewed", False),
    "patients:change": ("patient details viewed", True),
    "patients:cautions": ("cautions viewed", True),
    "patients:correct_fact": ("facts of limbs viewed", True),
    "patients:facts": ("facts of limbs viewed", True),
    "timeline:figure": ("limb timeline figure taken as SVG", True),
    "timeline:figure_png": ("limb timeline figure taken as PNG", True),
    "timeline:patient": ("patient page viewed", True),
    "timeline:summary": ("limb summary viewed", True),
    "timeline:table": ("limb timeline table taken as CSV", True),
    "timeline:timeline": ("limb timeline viewed", True),
    "timeline:two_exams": ("two exams compared", True),
    "today": ("today viewed", False),
    "traces:blind": ("trace displayed for a blind reading", True),
    "traces:desk": ("trace displayed", True),
    "traces:waiting": ("list of waiting traces viewed", False),
    "traces:columns": ("trace columns opened", True),
    "traces:exam": ("traces of an exam viewed", True),
    "traces:match": ("trace matching opened", True),
    "traces:original": ("trace file downloaded", True),
    "traces:withdraw": ("trace withdrawal opened", True),
    "traces:live": ("arriving trace viewed", True),
    "visits:agreement": ("agreement of an exam viewed", True),
    "visits:book": ("booking page viewed", True),
    "visits:compare": ("exam compared under other criteria", True),
    "visits:correct": ("correction page viewed", True),
    "visits:correct_condition": ("correction page viewed", True),
    "visits:category": ("further test viewed", True),
    "visits:category_correct": ("correction page viewed", True),
    "visits:further": ("further test viewed", True),
    "visits:further_correct": ("correction page viewed", True),
    "visits:more_tests": ("more tests viewed", True),
    "visits:hand_over": ("hand-over slip viewed", True),
    "visits:sheet": ("exam sheet viewed", True),
    "wounds:assess": ("page to assess a wound viewed", True),
    "wounds:correct": ("page to correct a wound viewed", True),
    "wounds:correct_assessment": ("page to assess a wound viewed", True),
    "wounds:new": ("page for a new wound viewed", True),
    "wounds:outlook": ("healing outlook viewed", True),
    "wounds:patient": ("wounds viewed", True),
    "wounds:photograph": ("wound photograph viewed", True),
    "wounds:trace": ("page to trace a wound viewed", True),
    "wounds:wound": ("wound viewed", True),
}
# Pages about two records leave the line in the trail of each.
OF_TWO = ("identity:compare", "identity:merge")
# Pages that show nothing of any patient.
WITHOUT_A_LINE = re.compile(
    r"^(about|health|ready|schema|traces:(live_part|exam_part|window|thumbnail|of_reading)|account_\w+|mfa_\w+|usersessions_\w+|jobs(_api)?:\w+|visits:(criteria|more_tests_part|noise)|documents:exam"
    r"|audit:(definitions|choose|rules|reports|exports|export)"
    r"|exchange:tables|identity:exam_part|patients:(list|new)|followup:targets|access:(?!trail$)\w+)$"
)


@override_settings(CACHES=NO_COUNTING)
class EveryView(TestCase):
    @classmethod
    def setUpTestData(cls):
        cls.cast = cast_of("Alder House")
        cls.examples = {}
        for walk in WALKS:
            cls.examples |= walk.examples(cls.cast)
        cls.names = {*Patient.objects.values_list("family_name", flat=True)}
        cls.names |= set(Identifier.objects.values_list("value", flat=True))

    def test_opening_a_page_leaves_exactly_its_line(self):
        for name, rule in sorted(matrix().urls.items()):
            ability = rule.abilities.get("GET")
            if ability in (None, NOBODY) or not _opens(name, self.examples):
                continue
            with self.subTest(page=name):
                _, rows = self._ask("GET", name, ability)
                left = [(row.action, row.patient_id is not None) for row in rows]
                if name in LINES:
                    expected = LINES[name]
                    assert left == ([expected] if expected else []) * (2 if name in OF_TWO else 1)
                else:
                    assert left == []
                    assert WITHOUT_A_LINE.match(name)

    def test_no_answer_names_a_patient_without_a_line_about_it(self):
        for name, rule in sorted(matrix().urls.items()):
            for method, ability in rule.abilities.items():
                if ability == NOBODY or not _opens(name, self.examples):
                    continue
                with self.subTest(page=name, method=method):
                    answer, rows = self._ask(method, name, ability)
                    assert rows or not self._named_in(answer)

    def test_whoever_has_no_care_of_patients_sees_none_named(self):
        for who in (self.cast.administrator, self.cast.educator, self.cast.system_administrator):
            for name, rule in sorted(matrix().urls.items()):
                for method, ability in rule.abilities.items():
                    if not _opens(name, self.examples):
                        continue
                    with self.subTest(page=name, method=method, roles=sorted(who.roles)):
                        answer, _ = self._ask(method, name, ability, who)
                        assert self._named_in(answer) == set()

    def _ask(self, method, name, ability, who=None):
        if who is None:
            who = next((one for one in self.cast.asking(name) if opens_for(one, name, ability)), None)
        client = self.client_class() if ability == PUBLIC and not who else client_for(who)
        before = transaction.savepoint()
        last = TrailRow.objects.order_by("-pk").values_list("pk", flat=True).first() or 0
        try:
            answer = client.generic(method, reverse(name, kwargs=self.examples.get(name)))
            return answer, list(TrailRow.objects.filter(pk__gt=last).order_by("pk"))
        finally:
            transaction.savepoint_rollback(before)

    def _named_in(self, answer):
        kind = answer.headers.get("Content-Type", "")
        shown = answer.content.decode(errors="replace") if "text" in kind or "json" in kind else ""
        return {name for name in self.names if name in shown}
