"""Many exams at once: coded cells in, codes and numbers out, through the same functions as ``interpret``."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from exams.hemodynamics.bands import BANDS, PATTERNS
from exams.hemodynamics.columns import NOT_TRIED, Attempts, Codes, ExamColumns, LimbColumns
from exams.hemodynamics.criteria.model import Criteria
from exams.hemodynamics.evaluation import LimbResult, evaluate
from exams.hemodynamics.exact import Integers
from exams.hemodynamics.flags import FLAGS
from exams.hemodynamics.measured import Side, Site

TABLE_SITES = {
    "dp": Site.DORSALIS_PEDIS,
    "pt": Site.POSTERIOR_TIBIAL,
    "peroneal": Site.PERONEAL,
    "toe": Site.TOE_1,
}
ARM_COLUMNS = ("arm_right", "arm_right_repeat", "arm_left", "arm_left_repeat")
FOOT_COLUMNS = tuple(f"{side.value}_{name}" for side in Side for name in TABLE_SITES)
REPEAT_COLUMNS = tuple(f"{name}_repeat" for name in FOOT_COLUMNS)


@dataclass(frozen=True, slots=True)
class TableLimb:
    """One side of n exams: ``index`` in hundredths (-1 none), codes as text, flags joined by ";"."""

    ankle_brachial_hundredths: Integers
    ankle_brachial_band: list[str]
    toe_brachial_hundredths: Integers
    toe_brachial_band: list[str]
    toe_band: list[str]
    ankle_band: list[str]
    pattern: list[str]
    flags: list[str]


@dataclass(frozen=True, slots=True)
class TableResult:
    """n exams: arm pressures in eighths of a mmHg (``denominator`` 0 none, ``difference`` -1 none)."""

    denominator: Integers
    difference: Integers
    right: TableLimb
    left: TableLimb


def read_table(
    codes: Mapping[str, Codes],
    half_mmhg: Mapping[str, Integers],
    *,
    first_arm: Codes,
    diabetes: Codes,
    kidney_disease: Codes,
    criteria: Criteria,
) -> TableResult:
    """Interpret n exams given as columns.

    Parameters
    ----------
    codes, half_mmhg : mapping of column name to array, shape (n,)
        What each cell says (``PRESSURE`` … ``VOID``) and its pressure in half mmHg. Names are
        ``ARM_COLUMNS``, ``FOOT_COLUMNS`` and ``REPEAT_COLUMNS``; any may be absent.
    first_arm, diabetes, kidney_disease : int array, shape (n,)
        FIRST_UNKNOWN …, UNKNOWN ….
    """
    rows = int(first_arm.shape[0])
    exams = ExamColumns(
        right=_limb(codes, half_mmhg, Side.RIGHT, rows),
        left=_limb(codes, half_mmhg, Side.LEFT, rows),
        first_arm=first_arm,
        diabetes=diabetes,
        kidney_disease=kidney_disease,
    )
    result = evaluate(exams, criteria)
    return TableResult(
        denominator=result.arms.denominator,
        difference=result.arms.difference,
        right=_table_limb(result.right),
        left=_table_limb(result.left),
    )


def _limb(
    codes: Mapping[str, Codes], half_mmhg: Mapping[str, Integers], side: Side, rows: int
) -> LimbColumns:
    nothing = np.zeros(rows, bool)
    sites = {
        site: _attempts(codes, half_mmhg, f"{side.value}_{name}", rows) for name, site in TABLE_SITES.items()
    }
    return LimbColumns(
        arm=_attempts(codes, half_mmhg, f"arm_{side.value}", rows),
        ankle={site: attempts for site, attempts in sites.items() if site is not Site.TOE_1},
        toes={Site.TOE_1: sites[Site.TOE_1]},
        open_wound=nothing,
        rest_pain=nothing,
        foot_infection=nothing,
        had_signal_before=nothing,
        lowering=np.zeros(rows, np.int64),
    )


def _attempts(
    codes: Mapping[str, Codes], half_mmhg: Mapping[str, Integers], name: str, rows: int
) -> Attempts:
    names = [column for column in (name, f"{name}_repeat") if column in codes]
    if not names:
        return Attempts(np.full((rows, 1), NOT_TRIED, np.int8), np.zeros((rows, 1), np.int64))
    return Attempts(
        np.stack([codes[column] for column in names], axis=1),
        np.stack([half_mmhg[column] for column in names], axis=1),
    )


def _table_limb(limb: LimbResult) -> TableLimb:
    ankle, toe = limb.indices["ankle_brachial_index"], limb.indices["toe_brachial_index"]
    return TableLimb(
        ankle_brachial_hundredths=ankle.hundredths,
        ankle_brachial_band=_text(BANDS, ankle.band),
        toe_brachial_hundredths=toe.hundredths,
        toe_brachial_band=_text(BANDS, toe.band),
        toe_band=_text(BANDS, limb.toe_band),
        ankle_band=_text(BANDS, limb.ankle_band),
        pattern=_text(PATTERNS, limb.pattern),
        flags=_joined_flags(limb.flags),
    )


def _text(names: tuple[str, ...], places: npt.NDArray[np.signedinteger]) -> list[str]:
    found: list[str] = np.array(names, dtype=object)[places].tolist()
    return found


def _joined_flags(flags: Mapping[str, npt.NDArray[np.bool_]]) -> list[str]:
    """The flags of each row, joined by ";" in the order of ``FLAGS``: one bit a flag, each mix once."""
    bits = np.zeros(len(next(iter(flags.values()))), np.int64)
    for place, flag in enumerate(FLAGS):
        bits += flags[flag].astype(np.int64) << place
    mixes, places = np.unique(bits, return_inverse=True)
    words = [";".join(flag for place, flag in enumerate(FLAGS) if int(mix) >> place & 1) for mix in mixes]
    return _text(tuple(words), places)
