"""A site has one code, in the core and in the database."""

from exams.hemodynamics import Outcome, Site
from exams.visits.models import Outcome as StoredOutcome
from exams.visits.models import Site as StoredSite


def test_the_core_and_the_database_name_the_same_sites():
    assert set(StoredSite.values) == {site.value for site in Site}


def test_the_core_and_the_database_name_the_same_outcomes():
    assert set(StoredOutcome.values) == {outcome.value for outcome in Outcome}
