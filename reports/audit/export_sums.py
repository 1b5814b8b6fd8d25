"""Rounded sums of a year for a file: by the rules of small numbers, whoever asks."""

from collections.abc import Iterator

from access.models import Clinic
from reports.audit.calendar import Period, Span
from reports.audit.definitions import measures
from reports.audit.export_files import Column, Row
from reports.audit.models import Count, Figure
from reports.audit.queries.figures import guarded, rule_of

COLUMNS = (
    Column("measure", "text", "id of the measure; its definition stands in about.txt"),
    Column("version", "whole", "version of the definition"),
    Column("title", "text", "title of the measure"),
    Column("clinic", "text", "the clinic, or “all clinics”"),
    Column("span", "text", "month, quarter or year"),
    Column("begins", "text", "first day of the period, on the clinic's calendar"),
    Column("code", "text", "of a table of codes, the code; else empty"),
    Column("met", "whole", "numerator, rounded; empty where hidden"),
    Column("of", "whole", "denominator, rounded by itself; empty where hidden"),
    Column(
        "unknown", "whole", "units that are not known, rounded; in neither of the two; empty where hidden"
    ),
    Column("percent", "number", "of the rounded figures; empty where either is hidden"),
    Column("low", "number", "lower limit of the 95 % interval (Wilson, widened for repeated patients)"),
    Column("high", "number", "upper limit of the 95 % interval"),
    Column("value_low", "number", "lower quartile, or lower limit of agreement, in the measure's unit"),
    Column("value_middle", "number", "median, or mean difference"),
    Column("value_high", "number", "upper quartile, or upper limit of agreement"),
    Column("hidden", "text", "which of met, of and unknown are hidden for small numbers"),
)


def rows(count: Count, clinic: Clinic) -> Iterator[Row]:
    """Every period of the clinic, and of all clinics, that was over when it was counted."""
    found = (
        Figure.objects.filter(tally=count)
        .filter(clinic__in=[clinic])
        .union(Figure.objects.filter(tally=count, clinic=None))
    )
    rule = rule_of(count)
    counted_on = count.counted_at.astimezone(clinic.zone).date()  # type: ignore[union-attr]
    for row in found.order_by("measure", "clinic", "span", "first", "code").iterator(chunk_size=2000):
        if Period(row.first, Span(row.span)).end > counted_on:
            continue
        one = guarded(row, rule, clinic if row.clinic_id else None)
        percent: list[float | None] = [None] * 3
        if one.share is not None:
            percent = [round(100 * part, 1) for part in (one.share.share, one.share.low, one.share.high)]
        hidden = [name for name in ("met", "of", "unknown") if getattr(one, name) is None]
        yield (
            row.measure,
            row.version,
            one.measure.title,
            clinic.name if row.clinic_id else "all clinics",
            row.span,
            row.first.isoformat(),
            row.code,
            one.met,
            one.of,
            one.unknown,
            *percent,
            *(one.values or (None, None, None)),
            " ".join(hidden),
        )


def about(count: Count, clinic: Clinic) -> list[str]:
    """What goes with the file: the rules, and each definition in full."""
    lines = [
        f"Audit figures of {clinic.name}, audit year from {count.year_first:%d %b %Y}.",
        f"Counted {count.counted_at:%d %b %Y %H:%M} UTC by software version {count.software}.",
        f"Counts of 1 to {count.threshold} are hidden, and parts whose rest is such a count; further ones so "
        f"that none can be worked out; all others are rounded to {count.base}. Zero is shown. "
        "Periods that still ran are left out. Medians are rounded to whole units, mean differences to "
        "halves; intervals are widened in steps.",
        "De-identified does not mean anonymous. Comparisons between people are not fair without case-mix.",
        "",
    ]
    for one in measures().values():
        if one.is_counted:
            lines += [
                f"{one.name}: {one.title}",
                f"  Why: {one.why}",
                f"  Numerator: {one.numerator}",
                f"  Denominator: {one.denominator}",
                f"  Not known: {one.unknown}",
                f"  Left out: {'; '.join(one.exclusions) or 'nothing'}",
                f"  Counted by: {one.anchor}; unit: {one.unit}",
            ]
    return lines
