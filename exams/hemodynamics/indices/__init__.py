"""Every index. A new one: one file here, one line below, its bands in the criteria, one published test."""

from exams.hemodynamics.indices.ankle_brachial import ANKLE_BRACHIAL
from exams.hemodynamics.indices.index import Foot, Index, IndexColumn, index_column
from exams.hemodynamics.indices.toe_brachial import TOE_BRACHIAL

ALL_INDICES = (ANKLE_BRACHIAL, TOE_BRACHIAL)

__all__ = ["ALL_INDICES", "ANKLE_BRACHIAL", "TOE_BRACHIAL", "Foot", "Index", "IndexColumn", "index_column"]
