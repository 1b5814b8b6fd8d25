"""The area of a wound: how it was found, how it changes, what slow healing asks for.

Source: SHEEHAN03, GVG19 (50 % at 4 weeks), IWG23 (imaging after 4 to 6 weeks); clinical reference 4.1, 4.6.
"""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from decimal import Decimal

from exams.hemodynamics.criteria.model import OutlookRules
from exams.hemodynamics.exact import round_half_up
from exams.hemodynamics.findings import NotStated
from exams.hemodynamics.measured import Answer
from exams.hemodynamics.words import joined
from exams.hemodynamics.wounds.assessed import AreaMethod, AreaReading, AssessedWound
from exams.hemodynamics.wounds.graded import AreaCourse
from exams.hemodynamics.wounds.possible import answer

SHEEHAN_MIDPOINT_PERCENT = 53  # midway between healers and non-healers at 4 weeks (SHEEHAN03)
FOUR_WEEKS_DAYS = 28
UNITS_FACTOR = 10
SHRINKS_SO_FAST_DAYS = 7


def area_of(wound: AssessedWound) -> AreaReading | None:
    """The traced area, else length times width (a rectangle, as commonly recorded); None without either."""
    if wound.traced_area_mm2 is not None:
        return AreaReading(wound.assessed_on, wound.traced_area_mm2, AreaMethod.TRACED)
    if wound.length_mm is None or wound.width_mm is None:
        return None
    return AreaReading(wound.assessed_on, wound.length_mm * wound.width_mm, AreaMethod.LENGTH_TIMES_WIDTH)


def area_question(before: AreaReading, after: AreaReading) -> str:
    """Whether to ask about the units: "tenfold_growth", "tenfold_fall" (within a week), or "" (ours)."""
    if before.area_mm2 and after.area_mm2 >= UNITS_FACTOR * before.area_mm2:
        return "tenfold_growth"
    quick = (after.on - before.on).days <= SHRINKS_SO_FAST_DAYS
    if after.area_mm2 and quick and after.area_mm2 * UNITS_FACTOR <= before.area_mm2:
        return "tenfold_fall"
    return ""


def area_reduction(before: AreaReading, after: AreaReading) -> Decimal | NotStated:
    """Percent area reduction, one decimal; negative is growth."""
    if before.method is not after.method:
        return NotStated(f"one area was {before.method.words}, the other {after.method.words}: not compared")
    if before.area_mm2 == 0:
        return NotStated("the first area is 0")
    lost = Decimal(before.area_mm2 - after.area_mm2) * 100 / before.area_mm2
    return round_half_up(lost, 1)


def area_course(
    areas: Collection[AreaReading], in_care_since: date | None, today: date, rules: OutlookRules
) -> AreaCourse:
    """How one open wound goes, against its first area.

    Parameters
    ----------
    in_care_since : date or None
        None counts from the first area: then the wound is in care at least that long.

    Notes
    -----
    The 4-week figure is of the reading nearest to 28 days within the window of the criteria. Slow healing and
    "shrinking" go by the newest area: a wound that healed well and grows again is slow.
    """
    ordered = sorted((one for one in areas if one.on <= today), key=lambda one: one.on)
    percent, days = _at_four_weeks(ordered, rules)
    latest, latest_days = _latest(ordered, rules)
    shrinking = _shrinking(latest, rules)
    since = min(filter(None, (in_care_since, *(one.on for one in ordered[:1]))), default=None)
    age = 0 if since is None else (today - since).days
    flags = []
    if rules.limits["slow_healing_days"].met_by(age) and shrinking == "no":
        flags.append("SLOW_HEALING")
    if rules.limits["image_regardless_days"].met_by(age):
        flags.append("IMAGE_REGARDLESS")
    cut = rules.limits["area_reduction_percent"]
    return AreaCourse(
        percent=percent, days=days, latest_percent=latest, latest_days=latest_days, in_care_days=age,
        shrinking=shrinking, sentence=_sentence(percent, days, latest, latest_days, age, flags, rules),
        flags=tuple(flags), rule=f"area reduction {cut.words} (percent) at 4 weeks", source=cut.source,
        status=cut.status,
    )  # fmt: skip


def _at_four_weeks(ordered: list[AreaReading], rules: OutlookRules) -> tuple[Decimal | NotStated, int | None]:
    first, last = rules.limits["area_first_days"], rules.limits["area_last_days"]
    if not ordered:
        return NotStated("no area recorded"), None
    start = ordered[0]
    within = [
        one
        for one in ordered[1:]
        if first.met_by((one.on - start.on).days) and last.met_by((one.on - start.on).days)
    ]
    if not within:
        return (
            NotStated(f"no second area {first.limit} to {last.limit} days after the first"),
            None,
        )
    best = min(within, key=lambda one: abs((one.on - start.on).days - FOUR_WEEKS_DAYS))
    return area_reduction(start, best), (best.on - start.on).days


def _latest(ordered: list[AreaReading], rules: OutlookRules) -> tuple[Decimal | NotStated, int | None]:
    """The reduction up to the newest area, once about 4 weeks have passed."""
    if len(ordered) < 2:
        return NotStated("no second area recorded"), None
    days = (ordered[-1].on - ordered[0].on).days
    if not rules.limits["area_first_days"].met_by(days):
        return NotStated("the areas are less than 3 weeks apart"), days
    return area_reduction(ordered[0], ordered[-1]), days


def _shrinking(latest: Decimal | NotStated, rules: OutlookRules) -> Answer:
    if isinstance(latest, NotStated):
        return "unknown"
    return answer(bool(rules.limits["area_reduction_percent"].met_by(float(latest))))


def _sentence(
    percent: Decimal | NotStated,
    days: int | None,
    latest: Decimal | NotStated,
    latest_days: int | None,
    age: int,
    flags: list[str],
    rules: OutlookRules,
) -> str:
    parts = []
    if not isinstance(percent, NotStated):
        cut = rules.limits["area_reduction_percent"]
        side = "reaches" if cut.met_by(float(percent)) else "does not reach"
        middle = "above" if percent > SHEEHAN_MIDPOINT_PERCENT else "not above"
        told = f"{percent} % smaller" if percent >= 0 else f"{-percent} % larger"
        parts.append(
            f"After {days} days the wound is {told}: it {side} the {cut.limit} % of the guideline, {middle} "
            f"the {SHEEHAN_MIDPOINT_PERCENT} % midway between wounds that healed and that did not"
        )
    elif isinstance(latest, NotStated):
        parts.append(f"Area reduction not known: {percent.reason}")
    if not isinstance(latest, NotStated) and latest_days != days:
        told = f"{latest} % smaller" if latest >= 0 else f"{-latest} % larger"
        parts.append(f"After {latest_days} days it is {told} than at first")
    if "SLOW_HEALING" in flags:
        parts.append("It heals slowly: review the plan and vascular imaging")
    if "IMAGE_REGARDLESS" in flags:
        parts.append(f"Open after {age} days of care: vascular imaging whatever the bedside tests show")
    return joined(parts)
