"""A limit moved in draft criteria: tried through the core, approved by a second person, then a file."""

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.test import TestCase

from access import clock
from exams.hemodynamics import criteria_names, load_criteria, read_criteria
from exams.visits.models import AdoptedCriteria
from reports.audit.draft_text import edges_of, moved
from reports.audit.models import CriteriaDraft
from reports.audit.queries.what_if import MOST, edges
from reports.audit.services import ask_for_approval, decide_draft, draft_criteria, open_draft, try_draft
from tests.audit.cohort import NOW, Cohort
from tests.people import cast_of, signed_in_client


class Drafts(TestCase):
    @classmethod
    def setUpTestData(cls):
        cls.here = cast_of("Alder House")
        cls.cohort = Cohort(cls.here)

    def setUp(self):
        self.enterContext(clock.at(NOW))
        self.reporter, self.administrator = self.here.reporter, self.here.administrator

    def test_the_last_exams_are_read_by_the_draft_and_what_changes_is_kept(self):
        outcome = self.tried("toe_pressure.0", 20).outcome

        # Of six exams only Eli's RIGHT hallux reads between 20 and 30: 26, the mean of 24 and 28.
        assert (outcome["exams"], outcome["limbs"], outcome["many"]) == (6, 12, 1)
        changed = [one for one in outcome["changed"] if one["measure"] == "toe pressure"]
        assert [(one["exam"], one["limb"], one["shown"]) for one in changed] == [
            (self.cohort.eli_1.pk, "RIGHT", "26 mmHg")
        ]
        assert (changed[0]["before"], changed[0]["after"]) == tuple(
            f"WIfI ischaemia {grade}" for grade in (3, 2)
        )

    def test_a_band_is_read_from_the_readings_not_from_a_stored_number(self):
        self.cohort.eli_1.results.filter(measure="toe_pressure").update(value=99, band="WIFI_0")

        assert self.tried("toe_pressure.0", 20).outcome["many"] == 1

    def test_a_threshold_may_be_moved_too_and_shows_what_follows_from_it(self):
        outcome = self.tried("toe_cold_celsius", 32).outcome

        # 31 °C is cold by the draft.
        found = {after for measure, _, after, _ in outcome["moves"] if measure == "toe skin temperature"}
        assert "cold toe" in found

    def test_only_the_last_exams_are_read(self):
        draft = self.drafted("toe_pressure.0", 20, last=1)

        # Eli's of August is the last.
        assert try_draft(draft=draft, by=self.reporter).outcome["exams"] == 1

    def test_a_draft_is_approved_by_an_administrator_and_never_by_who_made_it(self):
        draft = self.asked()
        with pytest.raises(ValidationError, match="handed out"):
            open_draft(draft=draft, by=self.reporter)
        with pytest.raises(PermissionDenied):
            decide_draft(draft=draft, approve=True, because="mine", by=self.reporter)
        own = self.asked(by=self.administrator)
        with pytest.raises(ValidationError, match="somebody else has to decide"):
            decide_draft(draft=own, approve=True, because="mine", by=self.administrator)

        draft = decide_draft(draft=draft, approve=True, because="agreed", by=self.administrator)

        trial = read_criteria(open_draft(draft=draft, by=self.reporter).decode())
        base = load_criteria("acc-aha-2024")
        assert (trial.name, trial.version) == (base.name, str(int(base.version) + 1))
        assert trial.content_hash == draft.content_sha256
        assert trial.pressure_bands["toe_pressure"][0].limit_mmhg == 20
        assert not AdoptedCriteria.objects.exists(), "an approved draft is a file, and nobody reads by it yet"

    def test_a_draft_is_decided_once_and_only_after_it_was_sent(self):
        tried = self.tried("toe_pressure.0", 20)
        with pytest.raises(ValidationError, match="does not wait"):
            decide_draft(draft=tried, approve=True, because="agreed", by=self.administrator)
        asked = ask_for_approval(draft=tried, because="a source", by=self.reporter)
        decide_draft(draft=asked, approve=False, because="not enough", by=self.administrator)

        for act in (
            lambda: decide_draft(draft=asked, approve=True, because="after all", by=self.administrator),
            lambda: ask_for_approval(draft=asked, because="again", by=self.reporter),
        ):
            with pytest.raises(ValidationError):
                act()

    def test_the_pages_lead_from_a_limit_to_the_file(self):
        reporter, administrator = (signed_in_client(one) for one in (self.reporter, self.administrator))
        said = {"edge": "toe_pressure.0", "limit": "20", "last": "200"}
        refused = reporter.post("/audit/what-if/", said | {"limit": "55"})
        self.assertContains(refused, "can lie from 1 mmHg to 39 mmHg", status_code=422)
        refused = reporter.post("/audit/what-if/", said | {"edge": "arm_difference_15_mmhg", "limit": "90"})
        self.assertContains(refused, "Choose another limit.", status_code=422)

        address = reporter.post("/audit/what-if/", said).headers["Location"]
        self.assertContains(reporter.get(address), "being read by the draft")
        try_draft(draft=CriteriaDraft.objects.get(), by=self.reporter)
        page = reporter.get(address)
        self.assertContains(page, "1 of 12 limbs in the last 6 exams would read otherwise.")
        self.assertContains(page, f"/exams/{self.cohort.eli_1.pk}/")
        reporter.post(f"{address}ask/", {"because": "a source"})
        self.assertContains(reporter.get(address), "Somebody else has to decide: an administrator of this")
        administrator.post(f"{address}decide/", {"decision": "approve", "because": "agreed"})

        assert b"limit_mmhg = 20" in reporter.get(f"{address}file/").content
        self.assertContains(reporter.get("/audit/what-if/"), "approved")

    def test_an_administrator_sees_no_small_number_and_no_exam(self):
        draft = self.tried("toe_pressure.0", 20)

        page = signed_in_client(self.administrator).get(f"/audit/what-if/{draft.pk}/")

        self.assertContains(page, "* of 10 limbs in the last 6 exams would read otherwise.")
        self.assertNotContains(page, f"/exams/{self.cohort.eli_1.pk}/")

    def test_a_nurse_is_refused_and_another_clinic_finds_nothing(self):
        draft = self.tried("toe_pressure.0", 20)
        elsewhere = cast_of("Lock Street").reporter

        assert signed_in_client(self.here.wound_nurse).get("/audit/what-if/").status_code == 403
        assert signed_in_client(elsewhere).get(f"/audit/what-if/{draft.pk}/").status_code == 404

    def drafted(self, key, limit, by=None, last=MOST):
        by = by or self.reporter
        edge = next(one for one in edges(by) if one.key == key)
        return draft_criteria(edge=edge, limit=limit, last=last, by=by)

    def tried(self, key, limit, by=None):
        by = by or self.reporter
        return try_draft(draft=self.drafted(key, limit, by), by=by)

    def asked(self, by=None):
        by = by or self.reporter
        return ask_for_approval(draft=self.tried("toe_pressure.0", 20, by), because="a source", by=by)


@pytest.mark.parametrize("name", criteria_names())
def test_every_limit_of_every_shipped_criteria_can_be_moved_by_one_and_nothing_else_moves(name):
    base = load_criteria(name)

    for edge in edges_of(base):
        trial = read_criteria(moved(base, edge, edge.limit + 1))
        shift = [one.limit - other.limit for one, other in zip(edges_of(trial), edges_of(base), strict=True)]
        assert sorted(shift) == [0] * (len(shift) - 1) + [1], edge.key
