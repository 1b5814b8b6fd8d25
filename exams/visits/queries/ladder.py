"""The pressure ladders of one exam, from its chart and its findings."""

from exams.hemodynamics import TOE_SITES, Finding, Interpretation, Interval, NotStated, Outcome, Side, Site
from exams.visits.ladder import Ladder, Standing, ladders
from exams.visits.models import Reading
from exams.visits.models import Site as StoredSite
from exams.visits.queries.chart import Chart
from exams.visits.wording import reason_words

ORDER = (Site.ARM, Site.POSTERIOR_TIBIAL, Site.DORSALIS_PEDIS, Site.PERONEAL, *TOE_SITES)
AMPUTATED = "amputated"
# The places that a foot is always drawn with: hatched where they are gone.
_DRAWN_WHEN_LOST = (Site.POSTERIOR_TIBIAL, Site.DORSALIS_PEDIS, Site.TOE_1)


def ladders_of(chart: Chart, interpretation: Interpretation) -> tuple[Ladder, Ladder]:
    """RIGHT and LEFT on one scale, with the intervals of the exam's findings."""
    return ladders(
        standings_of(chart, Side.RIGHT, interpretation),
        standings_of(chart, Side.LEFT, interpretation),
        key=f"exam-{chart.exam.pk}",
    )


def standings_of(chart: Chart, side: Side, interpretation: Interpretation) -> tuple[Standing, ...]:
    """What stands at each site that was planned, tried, or is not there any more."""
    lost = chart.lost(side.value)
    planned = set(chart.planned(side.value))
    pressures = _pressures_by_site(interpretation, side)
    standings = []
    for site in ORDER:
        attempts = chart.attempts(side.value, StoredSite(site.value))
        obtained = any(row.outcome != Outcome.NOT_OBTAINED for row in attempts)
        said = any(row.reason == AMPUTATED for row in attempts)
        # A toe lost "about 2019" may have been measured that year: what was measured is drawn.
        if not obtained and (said or (site.value in lost and site in _DRAWN_WHEN_LOST)):
            event = lost.get(site.value)
            because = event.words_dated if event else AMPUTATED
            standings.append(Standing(site, Outcome.NOT_OBTAINED, reason=because, absent=True))
        elif attempts:
            standings.append(_standing(site, attempts, pressures.get(site)))
        elif site.value in planned:
            standings.append(Standing(site, Outcome.NOT_OBTAINED, reason="no reading yet"))
    return tuple(standings)


def _standing(site: Site, attempts: tuple[Reading, ...], finding: Finding | None) -> Standing:
    """What the core lets stand: the latest attempt that gave an answer, as a mean if that is a pressure."""
    answered = [row for row in attempts if row.outcome != Outcome.NOT_OBTAINED]
    if not answered:
        last = attempts[-1]
        return Standing(site, Outcome.NOT_OBTAINED, reason=reason_words(last.reason, last.reason_text))
    outcome = Outcome(answered[-1].outcome)
    if outcome is Outcome.NO_SIGNAL:
        return Standing(site, outcome)
    if outcome is Outcome.NOT_OCCLUDABLE:
        reached = [row.pressure_mmhg for row in answered if row.outcome == Outcome.NOT_OCCLUDABLE]
        known = [mmhg for mmhg in reached if mmhg is not None]
        return Standing(site, outcome, max(known) if len(known) == len(reached) else None)
    if finding is None or isinstance(finding.value, NotStated):
        return Standing(site, outcome, answered[-1].pressure_mmhg)
    if not isinstance(finding.interval, Interval):
        return Standing(site, outcome, finding.value)
    return Standing(site, outcome, finding.value, finding.interval.low, finding.interval.high)


def _pressures_by_site(interpretation: Interpretation, side: Side) -> dict[Site, Finding]:
    """The finding of each site's own pressure; the ankle's joint one is not a site's."""
    found: dict[Site, Finding] = {}
    for finding in interpretation.on(side):
        if finding.measure.endswith("_pressure") and finding.measure != "ankle_pressure":
            for item in finding.inputs:
                found.setdefault(Site(item.site), finding)
    return found
