"""Invented report contents, made by hand so that the printed page can be tested without a database."""

from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal

from exams.hemodynamics import Outcome, Site
from exams.traces.thumbnail import Shown, sketch_of
from exams.visits.ladder import Standing
from reports.documents.content import (
    Cell,
    ChangeRow,
    ClinicFacts,
    Comparison,
    Fact,
    FindingRow,
    HandOverRow,
    Identity,
    ReadingRow,
    RecordingFigure,
    ReportContent,
    Statement,
    TrendLimit,
    TrendPanel,
    TrendPoint,
    TrendSeries,
)
from tests.traces.made import read, simulated

MADE_AT = datetime(2026, 11, 25, 10, 30, tzinfo=UTC)
PRELIMINARY = "PRELIMINARY: not yet reviewed by an interpreting clinician"


def standing(site: Site, mmhg: int, width: int = 8) -> Standing:
    return Standing(site, Outcome.PRESSURE, Decimal(mmhg), Decimal(mmhg - width), Decimal(mmhg + width))


def reading(side: str, site: str, shown: str, attempt: str = "1", at: str = "10:05", **more) -> ReadingRow:
    return ReadingRow(side, site, attempt, shown, "Doppler", at, **more)


def usual() -> ReportContent:
    """Two ordinary limbs, one earlier exam."""
    return ReportContent(
        title="Ankle and toe pressures at rest",
        subtitle="Exam of 25 Nov 2026, 09:55. Indication: foot ulcer.",
        status=PRELIMINARY,
        number=1,
        supersedes=None,
        exam_number="exam 12",
        clinic=ClinicFacts("Alder House", "1 Alder Row, Fenmarsh", "00000 100 100"),
        identity=Identity("Marsh, Odette", "3 Apr 1951", "female", ("Fenmarsh number FM-00412",)),
        invented=True,
        conclusion=(
            "RIGHT: ankle-brachial index 1.06 and toe-brachial index 0.70: borderline at the toe.\n"
            "LEFT: ankle-brachial index 0.68 and toe-brachial index 0.41: arterial disease, as the toe."
        ),
        exam=(
            Fact("Exam", "ankles and toes, complete"),
            Fact("Date and time", "25 Nov 2026, 09:55"),
            Fact("Indication", "foot ulcer"),
            Fact("Referred by", "Dr P. Plainname, Fenmarsh practice"),
            Fact("Measured by", "Mina Measurer"),
            Fact("Technique", "arm and ankle: Doppler; toe: light sensor, two cuffs"),
            Fact("Diabetes", "yes"),
            Fact("Kidney disease", "unknown"),
        ),
        conditions=(
            Fact("Position", "lying flat, heels supported"),
            Fact("Rest before first cuff", "12 minutes"),
            Fact("RIGHT toe skin", "30.5 °C"),
            Fact("LEFT toe skin", "28.0 °C"),
            Fact("Room", "23 °C"),
            Fact("Warming", "blanket"),
            Fact("Since tobacco", "not recorded"),
            Fact("Since caffeine", "3 hours"),
        ),
        right=(
            standing(Site.ARM, 132),
            standing(Site.POSTERIOR_TIBIAL, 140),
            standing(Site.DORSALIS_PEDIS, 136),
            standing(Site.TOE_1, 92),
        ),
        left=(
            standing(Site.ARM, 128),
            standing(Site.POSTERIOR_TIBIAL, 90),
            standing(Site.DORSALIS_PEDIS, 86),
            standing(Site.TOE_1, 54),
        ),
        findings=(
            FindingRow(
                "Ankle-brachial index",
                Cell("1.06", "0.98 to 1.14", "NORMAL", "normal"),
                Cell("0.68", "0.62 to 0.74", "ABNORMAL_MODERATE", "moderately reduced"),
                "higher ankle artery over the higher arm",
                "ACC16",
            ),
            FindingRow(
                "Toe-brachial index",
                Cell("0.70", "0.62 to 0.78", "ABNORMAL", "reduced"),
                Cell("0.41", "0.34 to 0.48", "ABNORMAL", "reduced"),
                "hallux over the higher arm",
                "ACC16",
            ),
            FindingRow(
                "Toe pressure",
                Cell("92 mmHg", "84 to 100", "WIFI_0", "WIfI ischaemia 0"),
                Cell("54 mmHg", "46 to 62", "WIFI_1", "WIfI ischaemia 1"),
                "mean of the hallux readings",
                "WIFI14",
            ),
        ),
        statements=(
            Statement("RIGHT", "The ankle may be falsely normal, or the disease lies below the ankle."),
            Statement("LEFT", "Arterial disease; ankle and toe agree."),
            Statement("LEFT", "The toe was below 30 °C: its pressure may read low."),
        ),
        readings=(
            reading("RIGHT", "arm", "132 mmHg"),
            reading("RIGHT", "posterior tibial", "140 mmHg", at="10:08"),
            reading("RIGHT", "dorsalis pedis", "136 mmHg", at="10:09"),
            reading("RIGHT", "hallux", "92 mmHg", at="10:14"),
            reading("LEFT", "arm", "128 mmHg", at="10:06"),
            reading("LEFT", "posterior tibial", "90 mmHg", at="10:11"),
            reading("LEFT", "dorsalis pedis", "86 mmHg", at="10:12"),
            reading(
                "LEFT", "hallux", "45 mmHg", at="10:16", struck=True, notes=("replaced: digits swapped",)
            ),
            reading("LEFT", "hallux", "54 mmHg", at="10:16", notes=("corrected by Mina Measurer",)),
        ),
        recordings=(),
        further=(),
        hand_overs=(),
        comparisons=(
            Comparison("RIGHT", "", none="No earlier exam of this limb to compare with."),
            Comparison(
                "LEFT",
                "the exam of 3 Mar 2026",
                rows=(
                    ChangeRow("Toe pressure", "60 mmHg", "54 mmHg", "within noise (needs 26 mmHg)"),
                    ChangeRow("Ankle-brachial index", "0.72", "0.68", "within noise (needs 0.15)"),
                ),
            ),
        ),
        trend=trend_of(2),
        limitations=(),
        criteria="acc-aha-2024, version 1: higher ankle artery over the higher arm",
        criteria_hash="ab" * 32,
        sources=(
            "ACC16: Gerhard-Herman MD, et al. Circulation 2017;135:e726-e779",
            "WIFI14: Mills JL, et al. J Vasc Surg 2014;59:220-234",
        ),
        uncertainty="Every interval is a 95 % interval of the measurement, from repeats and published noise.",
        software="vaslab 0.1.0",
        made="Made by Mina Measurer as measurer on 25 Nov 2026, 10:30.",
        made_at="made 25 Nov 2026, 10:30",
        interpretation={"criteria_name": "acc-aha-2024", "findings": []},
    )


def trend_of(exams: int) -> tuple[TrendPanel, ...]:
    """So many yearly exams, with a break and one ankle that could not be occluded."""

    def points(start: str, fall: str, unit: str) -> tuple[TrendPoint, ...]:
        made = []
        for number in range(exams):
            value = Decimal(start) - Decimal(fall) * number
            width = Decimal("0.07") if unit == "index" else Decimal(8)
            shown = f"{value} mmHg" if unit == "mmHg" else f"{value}"
            made.append(
                TrendPoint(
                    date(2026 - exams + 1 + number, 3, 3 + number),
                    value,
                    value - width,
                    value + width,
                    shown,
                    "different toe" if number == 3 else "",
                )
            )
        return tuple(made)

    toe = TrendSeries("toe pressure", points("90", "3", "mmHg"))
    ankle = TrendSeries("ankle pressure", points("130", "4", "mmHg"))
    stiff = replace(ankle.points[0], value=None, low=None, high=None, words="cannot be occluded at 250 mmHg")
    ankle = replace(ankle, points=(stiff, *ankle.points[1:]))
    indices = (
        TrendSeries("ankle-brachial index", points("1.02", "0.03", "index")),
        TrendSeries("toe-brachial index", points("0.72", "0.03", "index")),
    )
    pressure_limits = (TrendLimit(Decimal(30), "toe under 30: severe ischaemia"),)
    index_limits = (
        TrendLimit(Decimal("0.70"), "toe index abnormal to 0.70"),
        TrendLimit(Decimal("0.90"), "ankle index abnormal to 0.90"),
    )
    return tuple(
        panel
        for limb in ("RIGHT", "LEFT")
        for panel in (
            TrendPanel(limb, "Pressures", "mmHg", (ankle, toe), pressure_limits),
            TrendPanel(limb, "Indices", "index", indices, index_limits),
        )
    )


def calcified() -> ReportContent:
    """Ankles that cannot be occluded, an urgent toe, handed over."""
    return replace(
        usual(),
        conclusion=(
            "RIGHT: the ankle arteries could not be occluded, so the ankle tells nothing; the toe is "
            "24 mmHg, severe ischaemia.\nLEFT: not compressible at the ankle; toe 61 mmHg."
        ),
        right=(
            standing(Site.ARM, 142),
            Standing(Site.POSTERIOR_TIBIAL, Outcome.NOT_OCCLUDABLE, Decimal(250)),
            Standing(Site.DORSALIS_PEDIS, Outcome.NOT_OCCLUDABLE),
            standing(Site.TOE_1, 24),
        ),
        left=(
            Standing(Site.ARM, Outcome.NOT_OBTAINED, reason="arm protected"),
            Standing(Site.POSTERIOR_TIBIAL, Outcome.NO_SIGNAL),
            standing(Site.DORSALIS_PEDIS, 212),
            standing(Site.TOE_1, 61),
        ),
        hand_overs=(
            HandOverRow(
                "RIGHT",
                "Toe pressure 24 mmHg with an open wound: urgent vascular opinion.",
                "Handed over.",
                (
                    Fact("Recognised", "25 Nov 2026, 10:15, by Mina Measurer"),
                    Fact("Told", "Dr P. Plainname, vascular surgeon on call, 00000 300 300"),
                    Fact("By, at", "Mina Measurer, 25 Nov 2026, 10:22"),
                    Fact("Read back", "RIGHT toe twenty-four, open wound"),
                    Fact("Agreed", "seen today at 14:00 in clinic"),
                ),
            ),
        ),
    )


def recorded() -> ReportContent:
    """Three toe pressures that were read from recordings, one of them against the suggestion."""
    return replace(
        usual(),
        recordings=(
            recording("RIGHT hallux", "90 mmHg, good", "clean", 90),
            recording("RIGHT hallux, again", "84 mmHg, usable with caution", "cold", 84),
            recording("LEFT hallux", "97 mmHg, good", "pulsation_clean", 97),
        ),
    )


def recording(place: str, mark: str, family: str, mmhg: int) -> RecordingFigure:
    """A simulated recording; its picture names its place, so that a page says which pictures it holds."""
    made, found = simulated(family), read(family)
    at = float(made.time_s[len(made.time_s) // 2])
    shown = Shown(str(mmhg), at, f"picture of {place}", f"Recording of {place}: {mark}.")
    return RecordingFigure(
        place,
        f"{mmhg} mmHg",
        (
            Fact("Mark", mark),
            Fact("Read by", "Mina Measurer, 25 Nov 2026, 10:14; suggestion accepted"),
            Fact("Suggested", "90 mmHg (86 to 95), by reader version 1"),
            Fact("Flags", "none"),
            Fact("Technique", "light sensor, two cuffs"),
        ),
        sketch_of(made.time_s, made.cuff_mmhg, made.signal, found, shown),
    )


def hallux_amputated() -> ReportContent:
    return replace(
        usual(),
        right=(
            standing(Site.ARM, 132),
            standing(Site.POSTERIOR_TIBIAL, 140),
            standing(Site.DORSALIS_PEDIS, 136),
            Standing(Site.TOE_1, Outcome.NOT_OBTAINED, reason="amputated", absent=True),
            standing(Site.TOE_2, 71),
        ),
    )


def nothing_obtained() -> ReportContent:
    missing = [Site.ARM, Site.POSTERIOR_TIBIAL, Site.DORSALIS_PEDIS, Site.TOE_1]
    empty = tuple(Standing(site, Outcome.NOT_OBTAINED, reason="pain") for site in missing)
    return replace(
        usual(),
        conclusion="Nothing was obtained: stopped because of pain.",
        right=empty,
        left=tuple(Standing(one.site, one.outcome, reason="toe deformed or overlapping") for one in empty),
        findings=(),
        statements=(),
        readings=(),
        trend=(),
        comparisons=(Comparison("RIGHT", "", none="Nothing to compare."),),
        limitations=("RIGHT arm not obtained: pain.",),
    )


LONG = "a sentence that a person typed and that goes on for a good while, as such sentences do; " * 6


def very_long() -> ReportContent:
    """Names, identifiers and texts at the length their fields allow."""
    content = usual()
    return replace(
        content,
        identity=Identity(
            f"{'Featherstonehaugh-Wolfeschlegel ' * 3:.80}, {'Maximiliana Anastasia Philippa ' * 3:.80}",
            "29 Feb 1932",
            "female",
            tuple(f"{f'Fenmarsh regional issuer {n} ' * 3:.80} {f'FM-{n:07d}-' * 6:.60}" for n in (1, 2, 3)),
        ),
        clinic=ClinicFacts("Alder House " * 8, "1 Alder Row, " * 20, "00000 100 100"),
        subtitle=f"Exam of 25 Nov 2026, 09:55. Indication: {LONG[:300]}.",
        conclusion=LONG * 4,
        exam=(*content.exam, Fact("Comment", LONG), Fact("One word", "x" * 160)),
        left=(
            Standing(Site.ARM, Outcome.NOT_OBTAINED, reason=LONG[:190]),
            *content.left[1:],
            *(standing(Site(f"toe_{n}"), 60 - 4 * n) for n in range(2, 6)),
        ),
        readings=tuple(
            reading("RIGHT", "hallux", f"{40 + n} mmHg", str(n), notes=(LONG[:180],)) for n in range(1, 26)
        ),
    )


def twelve_earlier() -> ReportContent:
    return replace(usual(), trend=trend_of(13))
