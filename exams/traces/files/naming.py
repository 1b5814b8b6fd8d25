"""Which column is the time, which the cuff, which the signal: from names, units and the numbers themselves.

A guess is a proposal with its reason. What names and numbers leave open becomes a question.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

import numpy as np

from exams.traces.files.kinds import CuffUnit, Role, Samples, TimeUnit

_TIME_UNITS = {
    **dict.fromkeys(("s", "sec", "secs", "second", "seconds", "sek", "sekunden"), TimeUnit.SECONDS),
    **dict.fromkeys(("ms", "msec", "msecs", "millisecond", "milliseconds"), TimeUnit.MILLISECONDS),
    **dict.fromkeys(("min", "mins", "minute", "minutes"), TimeUnit.MINUTES),
}
_CUFF_UNITS = {
    **dict.fromkeys(("mmhg", "mm hg", "mm[hg]", "torr"), CuffUnit.MMHG),
    "kpa": CuffUnit.KPA,
}
_OTHER_UNITS = {
    "v",
    "mv",
    "uv",
    "µv",
    "a",
    "ma",
    "ua",
    "na",
    "%",
    "au",
    "a.u.",
    "nu",
    "counts",
    "count",
    "adc",
}
_OTHER_UNITS |= {"ml", "cm/s", "m/s", "hz", "bpm", "1/min", "lsb", "-", "1"}

# Whole words, without accents. Several languages: an export speaks that of its clinic.
_TIME = re.compile(
    r"\b(time|t|zeit|temps|tiempo|tempo|tijd|tid|elapsed|clock|timestamp|secs?|seconds|ms|msec)\b"
)
_COUNTER = re.compile(r"\b(index|sample|samples|no|nr|n|row|line|probe|num|number)\b|^#$")
_CUFF = re.compile(
    r"\b(p?cuff\w*|manschette\w*|brassard|manguito|bracciale|manchet|mansjett|occlusion\w*|occluder)\b"
)
_PRESSURE = re.compile(r"\b(pressure|press|druck|pression|presion|pressione|druk|tryck|trykk|mmhg|kpa|p)\b")
_SIGNAL = re.compile(
    r"\b(ppg\w*|ppt|pleth\w*|puls\w*|photo\w*|light|licht|signal|sig|doppler|flow|fluss|flux|envelope|toe|zeh\w*"
    r"|orteil|hallux|perfusion|pulp|infrared|ir|red)\b"
)
_UNIT_AT_END = re.compile(r"^(.*?)\s*(?:[(\[]\s*([^()]*?)\s*[)\]]|[/,]\s*([^\s/,]+))\s*$")
_WORD_AT_END = re.compile(r"^(.+?)(?:\s+in)?[\s_.\-]+([^\s_]+|mm hg)$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Facts:
    """What is known of one column or channel; ``values`` without a number are NaN, a clock is in seconds."""

    number: int
    name: str
    unit: str
    values: Samples
    clock: bool = False


@dataclass(frozen=True, slots=True)
class Guess:
    """``time``, ``cuff``, ``signal`` are column numbers or None; ``why`` the reason for each role found."""

    time: int | None
    cuff: int | None
    signal: int | None
    time_unit: TimeUnit
    cuff_unit: CuffUnit
    why: dict[Role, str]
    questions: tuple[str, ...]


def is_unit(text: str) -> bool:
    """ "(mmHg)", "ms", "V": a cell under a name that can only be its unit."""
    bare = text.strip("()[] ").lower()
    return bare in _TIME_UNITS or bare in _CUFF_UNITS or bare in _OTHER_UNITS


def name_and_unit(header: str) -> tuple[str, str]:
    """A header cell in its parts: "Cuff pressure (mmHg)", "cuff [kPa]", "t / ms", "time_s", "ppg"."""
    header = " ".join(header.split())
    if at_end := _UNIT_AT_END.match(header):
        name, unit = at_end[1], at_end[2] or at_end[3] or ""
        if at_end[2] is not None or is_unit(unit):
            return name.strip(), unit
    if (
        (word := _WORD_AT_END.match(header))
        and is_unit(word[2])
        and word[2].lower() not in {"a", "1", "-", "v"}
    ):
        return word[1].strip(), word[2]
    return header, ""


def cuff_unit(unit: str) -> CuffUnit | None:
    return _CUFF_UNITS.get(unit.strip().lower())


def guess(columns: list[Facts], *, own_clock: bool) -> Guess:
    """The best proposal. ``own_clock``: the format carries the time (EDF, WFDB); no column is looked for."""
    why: dict[Role, str] = {}
    questions: list[str] = []
    usable = [column for column in columns if np.isfinite(column.values).any()]

    time = None if own_clock else _time(usable, why, questions)
    unit = _time_unit(time, questions) if time else TimeUnit.SECONDS
    rest = [column for column in usable if column is not time and not _counts(column)]
    cuff = _cuff(rest, why, questions)
    pressure_unit = _cuff_unit(cuff, questions) if cuff else CuffUnit.MMHG
    signal = _signal([column for column in rest if column is not cuff], why, questions)
    return Guess(
        time=time.number if time else None,
        cuff=cuff.number if cuff else None,
        signal=signal.number if signal else None,
        time_unit=unit,
        cuff_unit=pressure_unit,
        why=why,
        questions=tuple(questions),
    )


def _plain(name: str) -> str:
    """Lower case, without accents, words parted by blanks."""
    letters = unicodedata.normalize("NFKD", name)
    bare = "".join(letter for letter in letters if not unicodedata.combining(letter)).lower()
    return re.sub(r"[\W_]+", " ", bare).strip() or name.strip()


def _counts(column: Facts) -> bool:
    """A running number of the samples: neither a time nor a signal."""
    if not _COUNTER.search(_plain(column.name)):
        return False
    steps = np.diff(column.values)
    return bool(steps.size and (steps == 1).all())


def _runs_forward(column: Facts) -> bool:
    """Every value known, never falling, and rising nearly always: a clock does nothing else."""
    steps = np.diff(column.values)
    return bool(steps.size >= 2 and (steps >= 0).all() and np.count_nonzero(steps) > 0.5 * steps.size)


def _time(columns: list[Facts], why: dict[Role, str], questions: list[str]) -> Facts | None:
    for column in columns:
        if column.clock:
            why[Role.TIME] = "its cells are times of day"
            return column
    for column in columns:
        named = _TIME.search(_plain(column.name)) or column.unit.lower() in _TIME_UNITS
        if named and not _counts(column):
            why[Role.TIME] = "its name says so"
            return column
    for column in columns:
        if _runs_forward(column) and not _counts(column):
            why[Role.TIME] = "it only rises, as a clock does"
            questions.append(f"Is {_called(column)} the time?")
            return column
    questions.append("There is no column with the time. How many samples a second were recorded?")
    return None


def _time_unit(time: Facts, questions: list[str]) -> TimeUnit:
    if time.clock:
        return TimeUnit.CLOCK
    said = _TIME_UNITS.get(time.unit.lower()) or _TIME_UNITS.get(_plain(time.name))
    if said:
        return said
    known = time.values[np.isfinite(time.values)]
    step = float(np.median(np.diff(known))) if known.size > 1 else 0.0
    # Between 10 and 2000 samples a second only one of the two is possible.
    if 0.0005 <= step <= 0.1:
        return TimeUnit.SECONDS
    if 0.5 <= step <= 100:
        return TimeUnit.MILLISECONDS
    questions.append("Is the time in seconds, milliseconds or minutes?")
    return TimeUnit.SECONDS


def _cuff(columns: list[Facts], why: dict[Role, str], questions: list[str]) -> Facts | None:
    with_unit = [column for column in columns if cuff_unit(column.unit)]
    for words, candidates in (
        ("its name says cuff", [one for one in columns if _CUFF.search(_plain(one.name))]),
        ("it is the pressure", [one for one in with_unit if not _SIGNAL.search(_plain(one.name))]),
        ("its name says pressure", [one for one in columns if _PRESSURE.search(_plain(one.name))]),
    ):
        # A cuff may be recorded twice, as target and as measured: the one with a unit comes first.
        candidates.sort(key=lambda one: cuff_unit(one.unit) is None)
        if candidates:
            why[Role.CUFF] = words
            if len(candidates) > 1:
                questions.append(f"Which one is the cuff pressure: {_list(candidates)}?")
            return candidates[0]
    falling = [column for column in columns if _deflates(column.values)]
    if falling:
        why[Role.CUFF] = "it rises to a cuff's pressure and then falls steadily"
        questions.append(f"Is {_called(falling[0])} the cuff pressure?")
        return falling[0]
    questions.append("Which column is the cuff pressure?")
    return None


def _deflates(values: Samples) -> bool:
    known = values[np.isfinite(values)]
    if known.size < 20 or not (known.min() >= -15 and 25 <= known.max() <= 400):
        return False
    top = int(np.argmax(known))
    falling = known[top :: max((known.size - top) // 50, 1)]
    steps = np.diff(falling)
    return bool(steps.size >= 5 and (steps <= 1).mean() > 0.9 and falling[-1] < 0.7 * falling[0])


def _cuff_unit(cuff: Facts, questions: list[str]) -> CuffUnit:
    said = cuff_unit(cuff.unit) or cuff_unit(_plain(cuff.name))
    if said:
        return said
    # 60 kPa would be 450 mmHg: no cuff of ours goes there.
    if np.nanmax(cuff.values) > 60:
        return CuffUnit.MMHG
    questions.append("Is the cuff pressure in mmHg or kPa?")
    return CuffUnit.MMHG


def _signal(columns: list[Facts], why: dict[Role, str], questions: list[str]) -> Facts | None:
    named = [column for column in columns if _SIGNAL.search(_plain(column.name))]
    if len(named) == 1:
        why[Role.SIGNAL] = "its name says so"
        return named[0]
    if len(columns) == 1:
        why[Role.SIGNAL] = "it is the only one left"
        return columns[0]
    candidates = named or columns
    if not candidates:
        questions.append("Which column is the signal?")
        return None
    why[Role.SIGNAL] = "one of several that it could be"
    questions.append(f"Which one is the signal: {_list(candidates)}?")
    return candidates[0]


def _called(column: Facts) -> str:
    return f"“{column.name}”" if column.name else f"column {column.number + 1}"


def _list(columns: list[Facts]) -> str:
    names = [_called(column) for column in columns[:6]]
    if len(columns) > 6:
        names.append("another")
    return f"{', '.join(names[:-1])} or {names[-1]}"
