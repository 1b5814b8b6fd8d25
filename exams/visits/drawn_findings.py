"""What the readings mean, as HTML: values and rules of one limb, put together without the template engine."""

from collections.abc import Iterable
from decimal import ROUND_HALF_UP, Decimal
from html import escape

from django.utils.safestring import SafeString

from exams.hemodynamics import Finding, Input, Interval, NotStated
from exams.visits.models import Site
from exams.visits.sheet import LimbFindings

# Shown with their values; everything else is said in sentences.
_VALUES = {
    "ankle_pressure": "ankle pressure",
    "toe_pressure": "toe pressure",
    "ankle_brachial_index": "ankle-brachial index",
    "toe_brachial_index": "toe-brachial index",
}
_SITES: dict[str, str] = {site.value: str(site.label) for site in Site}


def findings_html(limbs: Iterable[LimbFindings]) -> SafeString:
    """Every limb with its sentences, values, and the rule and source of each finding."""
    return SafeString("".join(_limb(limb) for limb in limbs))


def _limb(limb: LimbFindings) -> str:
    sentences = "".join(
        f'<p class="sentence" data-sentence>{escape(one.sentence)}</p>'
        for one in limb.findings
        if one.sentence
    )
    values = ""
    if limb.side:
        values = "".join(_value(one) for one in limb.findings if one.measure in _VALUES)
        values = f'<dl class="values">{values}</dl>'
    rules = "".join(_rule(one) for one in limb.findings if one.rule)
    return (
        f'<section class="limb-findings"><h3>{escape(limb.title)}</h3>{sentences}{values}'
        f'<details id="why-{limb.side or "exam"}"><summary>Rule and source</summary><ul>{rules}</ul>'
        "</details></section>"
    )


def _value(finding: Finding) -> str:
    band, words = "", finding.band_words
    if (
        isinstance(finding.value, NotStated)
        and finding.shown == "not stated"
        and finding.band == "NOT_ASSESSED"
    ):
        words = finding.value.reason
    if words:
        # As parts/band.html.
        band = (
            f'<dd class="read"><span class="band" data-band="{escape(finding.band)}">'
            f'<span class="swatch" aria-hidden="true"></span><span>{escape(words)}</span></span>'
            "</dd>"
        )
    sure = ""
    if isinstance(finding.interval, Interval):
        shown = _interval(finding.interval, finding.unit)
        sure = f'<dd class="sure"><span class="visually-hidden">95 % interval </span>{shown}</dd>'
    return (
        f'<div><dt>{_VALUES[finding.measure]}</dt><dd class="value">{escape(finding.shown)}</dd>'
        f"{band}{sure}</div>"
    )


def _interval(interval: Interval, unit: str) -> str:
    if unit != "mmHg":
        return interval.shown
    low, high = (end.quantize(Decimal(1), ROUND_HALF_UP) for end in (interval.low, interval.high))
    return f"{low} to {high}"


def _rule(finding: Finding) -> str:
    source = f' <span class="soft">({escape(finding.source)})</span>' if finding.source else ""
    made_of = f": {', '.join(_input(one) for one in finding.inputs)}" if finding.inputs else ""
    return f"<li>{escape(finding.rule)}{source}{made_of}</li>"


def _input(one: Input) -> str:
    side = one.side.word if one.side else ""
    return f"{side} {escape(_SITES.get(one.site, one.site))} {escape(one.shown)}"
