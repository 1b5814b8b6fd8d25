"""Transcutaneous oxygen: the pressure at the foot, and against a reference site.

Source: clinical reference 5.5 and 3.1; the limits, each with its source, are those of the criteria.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from exams.hemodynamics.criteria.model import Criteria, Threshold
from exams.hemodynamics.errors import InputError
from exams.hemodynamics.exact import index_hundredths
from exams.hemodynamics.findings import Finding, NotStated
from exams.hemodynamics.further_tests.limits import further_finding, meets, shown_mmhg
from exams.hemodynamics.measured import Side
from exams.hemodynamics.words import hundredths, listed

HIGHEST_OXYGEN_MMHG = 200  # breathing air no skin gives more (ours, for typing errors)
USUAL_PROBE_CELSIUS = Decimal(44)
PROBE_CELSIUS = (Decimal(37), Decimal(45))
INDEX_WORDS = {"GOOD": "good", "DOUBTFUL": "doubtful", "POOR": "poor"}


@dataclass(frozen=True, slots=True)
class Oxygen:
    """One measurement, in half mmHg; 0 is a possible value.

    ``reference_half_mmhg`` is that of the reference probe at ``reference_site`` (chest by custom), None where
    there was none. ``oedema`` and ``cellulitis`` at the probe read falsely low.

    Raises InputError ``oxygen.out_of_range``, ``oxygen.site_missing`` or ``oxygen.reference_site_missing``.
    """

    side: Side
    site: str
    half_mmhg: int
    reference_half_mmhg: int | None = None
    reference_site: str = ""
    probe_celsius: Decimal | None = USUAL_PROBE_CELSIUS
    oedema: bool = False
    cellulitis: bool = False

    def __post_init__(self) -> None:
        for name in ("half_mmhg", "reference_half_mmhg"):
            value = getattr(self, name)
            if value is not None and not 0 <= value <= 2 * HIGHEST_OXYGEN_MMHG:
                raise InputError("oxygen.out_of_range", name, value, (0, 2 * HIGHEST_OXYGEN_MMHG))
        low, high = PROBE_CELSIUS
        if self.probe_celsius is not None and not low <= self.probe_celsius <= high:
            raise InputError("oxygen.out_of_range", "probe_celsius", self.probe_celsius, PROBE_CELSIUS)
        if not self.site:
            raise InputError("oxygen.site_missing", "site")
        if self.reference_half_mmhg is not None and not self.reference_site:
            raise InputError("oxygen.reference_site_missing", "reference_site")


def oxygen_findings(oxygen: Oxygen, criteria: Criteria) -> tuple[Finding, Finding]:
    """The pressure with its WIfI grade if it were used alone, and the regional index."""
    return _pressure(oxygen, criteria), _regional_index(oxygen, criteria)


def _pressure(oxygen: Oxygen, criteria: Criteria) -> Finding:
    value = Fraction(oxygen.half_mmhg, 2)
    severe = meets(criteria, "oxygen_severe_mmhg", value)
    normal = meets(criteria, "oxygen_normal_mmhg", value)
    limit = criteria.further["oxygen_normal_mmhg" if normal else "oxygen_severe_mmhg"]
    band, words = "REDUCED", "reduced"
    if severe:
        band, words = "SEVERE", "severely reduced"
    elif normal:
        band, words = "NORMAL", "normal"
    doubts = [name for name, so in (("swelling", oxygen.oedema), ("cellulitis", oxygen.cellulitis)) if so]
    doubt = f"; {listed(doubts)} may make it read falsely low" if doubts else ""
    met = (step for step in (3, 2, 1) if meets(criteria, f"oxygen_wifi_{step}_mmhg", value))
    grade = f"WIFI_{next(met, 0)}"
    flags = (grade, *(("FALSELY_LOW",) if doubts else ()))
    flags += ("PROBE_TEMPERATURE_NOT_RECORDED",) if oxygen.probe_celsius is None else ()
    return further_finding(
        criteria, "oxygen_pressure", oxygen.side, shown_mmhg(value), "mmHg", limit,
        band=band, band_words=words, flags=flags,
        said=f"{oxygen.side.word} {oxygen.site} oxygen {shown_mmhg(value)} mmHg, {words}{doubt}",
    )  # fmt: skip


def _regional_index(oxygen: Oxygen, criteria: Criteria) -> Finding:
    good, poor = (criteria.further[f"oxygen_index_{name}_hundredths"] for name in ("good", "poor"))
    reference = oxygen.reference_half_mmhg
    if not reference:
        why = "no reference site was measured" if reference is None else "the reference site reads 0"
        return further_finding(
            criteria, "regional_perfusion_index", oxygen.side, NotStated(why), "index", good
        )
    index = index_hundredths(oxygen.half_mmhg, reference)
    band = "DOUBTFUL"
    if meets(criteria, "oxygen_index_good_hundredths", index):
        band = "GOOD"
    elif meets(criteria, "oxygen_index_poor_hundredths", index):
        band = "POOR"
    return further_finding(
        criteria, "regional_perfusion_index", oxygen.side, hundredths(index), "index",
        good if band == "GOOD" else poor,
        band=band, band_words=INDEX_WORDS[band],
        said=f"{oxygen.side.word} {oxygen.site} over {oxygen.reference_site}: {hundredths(index)}, "
        f"{INDEX_WORDS[band]}",
        rule=f"{_as_index(good)} good, {_as_index(poor)} poor, between them doubtful",
    )  # fmt: skip


def _as_index(limit: Threshold) -> str:
    """ "above 0.60"."""
    return limit.words.replace(str(limit.limit), str(hundredths(limit.limit)))
