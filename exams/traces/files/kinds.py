"""What a file of a recording is, what is asked about it, and what comes out: frozen values."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from enum import StrEnum
from typing import Any

import numpy as np
import numpy.typing as npt

# Caps. A trace of a toe takes about a minute; these leave room for a whole session in one file.
MOST_BYTES = 32 * 1024 * 1024
MOST_CHANNELS = 64
MOST_SECONDS = 30 * 60
MOST_SAMPLES = 2_000_000

MMHG_PER_KPA = 7.50062

Samples = npt.NDArray[np.float64]


class TraceFileError(ValueError):
    """A file that cannot be taken. The only exception any function of this package raises, on any bytes.

    Parameters
    ----------
    code : str
        Stable: ``empty``, ``too_big``, ``too_long``, ``too_many_channels``, ``too_many_samples``,
        ``duration``, ``not_a_trace``, ``half``, ``broken``, ``no_table``, ``columns_unclear``,
        ``columns_wrong``, ``no_signal``, ``time_wrong``.
    words : str
        What is wrong and what to do, for the person who chose the file. Never holds what the file says of
        a patient.
    """

    def __init__(self, code: str, words: str) -> None:
        self.code = code
        self.words = words
        super().__init__(words)


class FileKind(StrEnum):
    CSV = "csv"
    EDF = "edf"
    WFDB = "wfdb"  # header and signal files in one archive, as ``put_together`` makes it


class Role(StrEnum):
    """What a column (or channel) holds."""

    TIME = "time"
    CUFF = "cuff"
    SIGNAL = "signal"


class TimeUnit(StrEnum):
    SECONDS = "s"
    MILLISECONDS = "ms"
    MINUTES = "min"
    CLOCK = "clock"  # 10:22:33.120, with or without a date


class CuffUnit(StrEnum):
    MMHG = "mmHg"
    KPA = "kPa"


@dataclass(frozen=True, slots=True)
class Columns:
    """Which column is which: what a person confirms, and what is kept beside the trace.

    ``time``, ``cuff`` and ``signal`` are column numbers from 0. Without a time column (``time`` None) the
    clock is made from ``sampling_hz``. EDF and WFDB carry their own clock: both stay None there.
    ``separator`` and ``decimal_comma`` belong to text tables; a space stands for any run of blanks.
    """

    cuff: int
    signal: int
    time: int | None = None
    time_unit: TimeUnit = TimeUnit.SECONDS
    cuff_unit: CuffUnit = CuffUnit.MMHG
    sampling_hz: float | None = None
    separator: str = ","
    decimal_comma: bool = False

    def to_json(self) -> dict[str, Any]:
        return asdict(self)

    @classmethod
    def from_json(cls, data: dict[str, Any]) -> Columns:
        """The columns that ``to_json`` wrote.

        Raises
        ------
        TraceFileError
            ``columns_wrong`` for anything else.
        """
        try:
            time, hz = data["time"], data["sampling_hz"]
            return cls(
                cuff=int(data["cuff"]),
                signal=int(data["signal"]),
                time=None if time is None else int(time),
                time_unit=TimeUnit(data["time_unit"]),
                cuff_unit=CuffUnit(data["cuff_unit"]),
                sampling_hz=None if hz is None else float(hz),
                separator=str(data["separator"]),
                decimal_comma=bool(data["decimal_comma"]),
            )
        except (KeyError, TypeError, ValueError, OverflowError):
            raise TraceFileError(
                "columns_wrong", "What was said about the columns cannot be used. Choose them again."
            ) from None


@dataclass(frozen=True, slots=True)
class ColumnPreview:
    """One column as the page that asks about it shows it.

    ``first`` are its first cells as written; ``low`` and ``high`` its smallest and largest number, None
    where it has none; ``missing`` counts cells without a number, among those looked at. ``role`` is what it
    seems to be, ``why`` the reason in words ("" without a role).
    """

    number: int
    name: str
    unit: str
    first: tuple[str, ...]
    low: float | None
    high: float | None
    missing: int
    role: Role | None
    why: str


@dataclass(frozen=True, slots=True)
class Annotation:
    """A remark in the recording, for showing only."""

    time_s: float
    text: str


@dataclass(frozen=True, slots=True)
class Preview:
    """What a file seems to hold, for a person to confirm.

    Attributes
    ----------
    kind : FileKind
    columns : tuple of ColumnPreview
    samples : int
        Rows of the table, or samples of the longest channel.
    sampling_hz, duration_s : float or None
        As far as known without asking.
    suggested : Columns or None
        The best guess; None where no cuff or no signal can even be guessed.
    questions : tuple of str
        What is not clear, each a question for a person. Empty: clearly recognisable.
    exact : bool
        Nothing needs asking: the header reads time_s,cuff_mmhg,ppg, or the format itself names the cuff with
        its unit and there is one signal beside it.
    warnings : tuple of str
    annotations : tuple of Annotation
    """

    kind: FileKind
    columns: tuple[ColumnPreview, ...]
    samples: int
    sampling_hz: float | None
    duration_s: float | None
    suggested: Columns | None
    questions: tuple[str, ...]
    exact: bool
    warnings: tuple[str, ...] = ()
    annotations: tuple[Annotation, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class ParsedTrace:
    """One recording on one clock: float64 arrays of one length, missing values NaN, times never NaN and
    never falling."""

    time_s: Samples
    cuff_mmhg: Samples
    signal: Samples
    warnings: tuple[str, ...] = ()
    annotations: tuple[Annotation, ...] = ()
