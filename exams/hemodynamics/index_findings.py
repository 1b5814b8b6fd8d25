"""The finding of each index: the same for every index of the house."""

from __future__ import annotations

from decimal import Decimal
from typing import NamedTuple

from exams.hemodynamics.ankle import MEASURED, MIXED, NO_FLOW, ONE_ABSENT, STIFF
from exams.hemodynamics.bands import BANDS
from exams.hemodynamics.criteria.model import BAND_WORDS, IndexBand
from exams.hemodynamics.exact import mmhg
from exams.hemodynamics.findings import Finding, Input, Interval, NotStated
from exams.hemodynamics.indices import Index, IndexColumn
from exams.hemodynamics.limb import Limb, band_of_index
from exams.hemodynamics.measured import SITE_WORDS, Side, Site
from exams.hemodynamics.words import ARM_RULE_WORDS, hundredths, joined, mmhg_words

_WORDS_OF_A_SITE = {site.value: name for site, name in SITE_WORDS.items()}
NEAR_A_LIMIT = 0.2  # share of the noise beyond a limit from which the sentence says so (ours)


class _Told(NamedTuple):
    """What is told of an index, before the sentence that is made from it."""

    value: Decimal | NotStated
    shown: str
    interval: Interval | NotStated
    band: str
    flags: tuple[str, ...]


def index_finding(limb: Limb, index: Index) -> Finding:
    """An index of one limb, with interval, band and a sentence."""
    column = limb.result.indices[index.measure]
    bands = limb.criteria.index_bands[index.measure]
    band = BANDS[int(column.band[0])]
    step = band_of_index(bands, band)
    value = _value(index, column)
    told = _Told(
        value=value,
        shown=_shown(column, value),
        interval=_interval(limb, index, column, bands),
        band=band,
        flags=(*limb.flags(index.measure), *_condition_flags(limb, index)),
    )
    return Finding(
        measure=index.measure,
        limb=limb.side,
        value=told.value,
        unit="index",
        shown=told.shown,
        interval=told.interval,
        band=told.band,
        band_words=BAND_WORDS[band],
        flags=told.flags,
        sentence=_sentence(limb, index, column, told, bands),
        rule=_rule(limb, index, step),
        source=step.source if step else limb.criteria.ankle.source,
        status=step.status if step else limb.criteria.ankle.status,
        inputs=_inputs(limb, index, column),
    )


def _value(index: Index, column: IndexColumn) -> Decimal | NotStated:
    found = int(column.hundredths[0])
    if found >= 0:
        return hundredths(found)
    state = int(column.numerator.state[0])
    least = int(column.at_least[0])
    if least >= 0:
        cuff = mmhg(int(column.numerator.cuff[0]))
        return NotStated(
            f"the cuff stopped at {cuff} mmHg before the artery closed: index {hundredths(least)} or more"
        )
    if state == STIFF:
        return NotStated(index.stiff_words)
    if state == NO_FLOW:
        return NotStated(index.no_flow_words)
    if state == ONE_ABSENT:
        return NotStated("no signal at the only ankle artery tried")
    if state in (MEASURED, MIXED):
        return NotStated("no arm pressure")
    return NotStated(f"{index.site} pressure not measured")


def _shown(column: IndexColumn, value: Decimal | NotStated) -> str:
    if isinstance(value, NotStated):
        least = int(column.at_least[0])
        return f"at least {hundredths(least)}" if least >= 0 else "not stated"
    return f"{value} (unreliable)" if int(column.numerator.state[0]) == MIXED else str(value)


def _interval(
    limb: Limb, index: Index, column: IndexColumn, bands: tuple[IndexBand, ...]
) -> Interval | NotStated:
    site, arm = limb.numerator(index), limb.read.arm_combined
    if int(column.hundredths[0]) < 0 or site is None or arm is None:
        return NotStated("there is no index")
    return limb.read.ratio_interval(site, arm, bands)


def _condition_flags(limb: Limb, index: Index) -> tuple[str, ...]:
    """Cold, posture and too short a rest travel with the index: they are part of what makes it comparable."""
    if not index.tried(limb):
        return ()
    flags = []
    if index.site == "toe" and limb.cold:
        flags.append("COLD_TOE")
    elif index.site == "toe" and limb.measured.toe_skin_celsius is None:
        flags.append("TEMP_NOT_RECORDED")
    if "COLD_TOE" in flags or limb.not_flat:
        flags.append("PROVISIONAL")
    if limb.short_rest:
        flags.append("REST_UNDER_5")
    return tuple(flags)


def _inputs(limb: Limb, index: Index, column: IndexColumn) -> tuple[Input, ...]:
    site_inputs = [limb.input(site) for site in index.tried(limb)]
    arm_inputs = limb.read.arm_inputs
    made = []
    if int(column.numerator.state[0]) in (MEASURED, MIXED):
        used = [item for item in site_inputs if item.site in index.used(limb)]
        made.append(_made("numerator", limb.side, index.words(limb), column.numerator.eighths[0], used))
    if limb.denominator is not None:
        words = ARM_RULE_WORDS[limb.criteria.arm.rule]
        used = [item for item in arm_inputs if item.mmhg is not None]
        made.append(_made("denominator", None, words, limb.all_results.arms.denominator[0], used))
    return (*made, *site_inputs, *arm_inputs)


def _made(role: str, side: Side | None, site: str, eighths: int, used: list[Input]) -> Input:
    value = mmhg(int(eighths))
    techniques = "+".join(sorted({item.technique for item in used}))
    return Input(role, side, site, mmhg_words(value), value, techniques, sum(item.readings for item in used))


def _rule(limb: Limb, index: Index, step: IndexBand | None) -> str:
    over = site_or_rule_words(index.words(limb))
    rule = f"{limb.criteria.label}: {over} over {ARM_RULE_WORDS[limb.criteria.arm.rule]}"
    if step is None:
        return rule
    lowest = hundredths(step.lo)
    top = f"{lowest} to {hundredths(step.hi)}" if step.hi is not None else f"{lowest} or more"
    return f"{rule}; {BAND_WORDS[step.code]}: {top}"


def site_or_rule_words(words: str) -> str:
    """A site code in words; anything else as it is."""
    return _WORDS_OF_A_SITE.get(words, words)


def _sentence(
    limb: Limb, index: Index, column: IndexColumn, told: _Told, bands: tuple[IndexBand, ...]
) -> str:
    """What the index says; empty where another finding says the same."""
    if told.band == "NON_COMPRESSIBLE" or int(column.numerator.state[0]) == STIFF:
        if not index.stiff_sentence:
            return ""
        if told.shown == "not stated":
            return joined([f"{limb.word}: {index.stiff_sentence}"])
        # That the cuff stopped too low is said, with what to do, by the finding of the pressure.
        stiff = "" if "LOWER_BOUND" in told.flags else index.stiff_sentence
        return joined([f"{limb.word} {index.title} {told.shown}", stiff])
    if isinstance(told.value, NotStated):
        return ""
    toe = limb.deciding_toe
    which = f" ({toe.words})" if index.site == "toe" and toe is not None and toe is not Site.TOE_1 else ""
    words = BAND_WORDS[told.band] if told.band != "NOT_ASSESSED" else "not banded"
    provisional = ", provisional" if "PROVISIONAL" in told.flags else ""
    parts = [f"{limb.word} {index.title} {told.shown}{which}: {words}{provisional}", _near(told, bands)]
    if "LOW_ANKLE_ABNORMAL" in told.flags:
        parts.append("The lower ankle artery alone would be reduced")
    return joined(parts)


def _near(told: _Told, bands: tuple[IndexBand, ...]) -> str:
    """Says so where a repeat could well fall in the next band."""
    codes = [band.code for band in bands]
    if isinstance(told.interval, NotStated) or told.band not in codes or "MIXED" in told.flags:
        return ""
    place = codes.index(told.band)
    at_or_below = {b.band: b.probability for b in told.interval.beyond if b.operator == "<="}
    lower = at_or_below[codes[place - 1]] if place else 0.0
    higher = 1 - at_or_below.get(told.band, 1.0)
    if max(lower, higher) < NEAR_A_LIMIT:
        return ""
    neighbour = codes[place - 1] if lower > higher else codes[place + 1]
    return f"Close to a limit: a repeat may read {BAND_WORDS[neighbour]}"
