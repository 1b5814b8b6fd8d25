"""The reader of traces against recordings whose answer is known, beside general-purpose methods."""

import json
import os
import subprocess
import sys
from dataclasses import dataclass

import numpy as np

from bench._real_pulse import real_pulse_trace, recording_path
from bench._trace_methods import change_point, prepared, threshold, two_lines
from exams.hemodynamics import TRACE_FAMILIES, FlagCode, NotStated, read_trace, simulate_trace

PEOPLE = 40  # of each family
FIRST_SEED = 20_000
METHODS = {"threshold": threshold, "two lines": two_lines, "change point": change_point}
FAR_WRONG_MMHG = 10


@dataclass(frozen=True)
class Read:
    """One recording with its answer and what was said of it."""

    trace: object
    reading: object
    general: dict

    @property
    def error(self):
        return self.reading.mark.pressure_mmhg - self.trace.systolic_mmhg

    @property
    def ideal_error(self):
        return self.trace.ideal_mmhg - self.trace.systolic_mmhg

    @property
    def held(self):
        return self.reading.mark.low_mmhg <= self.trace.systolic_mmhg <= self.reading.mark.high_mmhg

    @property
    def width(self):
        return self.reading.mark.high_mmhg - self.reading.mark.low_mmhg

    @property
    def answered(self):
        return self.reading.usable and not isinstance(self.reading.mark, NotStated)

    @property
    def named(self):
        return bool(self.trace.expected_flags & {flag.code for flag in self.reading.flags})


def measure():
    """The table of families, then the figures of quality.md."""
    honest, spoilt = by_trust(every_family())
    print(*_honest_table(honest), "", *_spoilt_table(spoilt), "", sep="\n")
    return _accuracy(honest) + _beside_general_methods(honest) + _trust(honest, spoilt) + _speed()


def every_family():
    """Family to its recordings, read."""
    families = {
        name: [_read(_simulated(name, number)) for number in range(PEOPLE)] for name in TRACE_FAMILIES
    }
    if recording_path():
        families["real_pulse"] = [
            _read(real_pulse_trace(FIRST_SEED + number, _pressure(number))) for number in range(PEOPLE)
        ]
    else:
        print("The open pulse recording is not here (VASLAB_OPEN_DATA): the family real_pulse is left out.")
    return families


def by_trust(families):
    """Those with an honest answer, and those whose pressure must not be reported."""
    honest = {name: reads for name, reads in families.items() if reads[0].trace.should_be_usable}
    return honest, {name: reads for name, reads in families.items() if name not in honest}


def _simulated(family, number):
    return simulate_trace(
        family=family,
        seed=FIRST_SEED + number,
        systolic_mmhg=_pressure(number),
        severity=(number % 11) / 10,
    )


def _pressure(number):
    """30 to 180 mmHg, every part of the range with every severity."""
    return 30 + 150 * (number * 0.618 % 1)


def _read(trace):
    reading = read_trace(trace.time_s, trace.cuff_mmhg, trace.signal, kind=trace.kind)
    general = {}
    if trace.should_be_usable and (stretch := prepared(trace)):
        general = {name: method(*stretch) for name, method in METHODS.items()}
    return Read(trace, reading, general)


def general_errors(reads, name):
    found = [(read.general.get(name), read.trace.systolic_mmhg) for read in reads]
    return np.array([answer - true for answer, true in found if answer is not None])


def mean_absolute(errors):
    return float(np.mean(np.abs(errors))) if len(errors) else float("nan")


def _flat(families):
    return [read for reads in families.values() for read in reads]


def _honest_table(honest):
    yield "mmHg against the true systolic; general methods on every recording, ours and ideal where read"
    yield (
        f"{'family':<24}{'read':>6}{'error':>7}{'ideal':>7}{'bias':>7}{'95 %':>7}{'held':>6}{'width':>7}"
        + "".join(f"{name:>14}" for name in METHODS)
    )
    for name, reads in [*honest.items(), ("all", _flat(honest))]:
        yield _honest_row(name, reads)


def _honest_row(name, reads):
    answered = [read for read in reads if read.answered]
    errors = np.array([read.error for read in answered] or [np.nan])
    ideal = mean_absolute([read.ideal_error for read in answered])
    held = 100 * np.mean([read.held for read in answered] or [np.nan])
    width = np.mean([read.width for read in answered] or [np.nan])
    return (
        f"{name:<24}{len(answered) / len(reads):>6.0%}{mean_absolute(errors):>7.2f}{ideal:>7.2f}"
        f"{errors.mean():>+7.2f}{np.percentile(np.abs(errors), 95):>7.2f}{held:>5.0f}%{width:>7.1f}"
        + "".join(f"{mean_absolute(general_errors(reads, method)):>14.2f}" for method in METHODS)
    )


def _spoilt_table(spoilt):
    yield f"{'must not be reported':<26}{'refused':>9}{'and rightly named':>19}"
    for name, reads in spoilt.items():
        refused = np.mean([not read.reading.usable for read in reads])
        named = np.mean([not read.reading.usable and read.named for read in reads])
        yield f"{name:<26}{refused:>9.0%}{named:>19.0%}"


def _accuracy(honest):
    answered = [read for read in _flat(honest) if read.answered]
    errors = np.array([read.error for read in answered])
    over_ideal = mean_absolute(errors) / mean_absolute([read.ideal_error for read in answered])
    tail = float(np.percentile(np.abs(errors), 95))
    by_family = {
        name: mean_absolute([read.error for read in reads if read.answered]) for name, reads in honest.items()
    }
    worst = max(by_family, key=by_family.get)
    held = 100 * float(np.mean([read.held for read in answered]))
    width = float(np.mean([read.width for read in answered]))
    bias = float(errors.mean())
    return [
        _figure(
            "mean absolute error over the ideal reader's",
            over_ideal,
            "times",
            "at most 1.2",
            over_ideal <= 1.2,
        ),
        _figure("95th percentile of the error", tail, "mmHg", "at most 7", tail <= 7),
        _figure("bias", bias, "mmHg", "within 1", abs(bias) <= 1),
        _figure(f"worst family ({worst})", by_family[worst], "mmHg", "at most 5", by_family[worst] <= 5),
        _figure("95 % interval holds the true systolic", held, "%", "92 to 98", 92 <= held <= 98),
        _figure("95 % interval, mean width", width, "mmHg", "at most 12", width <= 12),
    ]


def _beside_general_methods(honest):
    reads = _flat(honest)
    ours = mean_absolute([read.error for read in reads if read.answered])
    ratios = {name: ours / mean_absolute(general_errors(reads, name)) for name in METHODS}
    return [
        _figure(f"error over that of {name}", ratio, "times", "at most 0.33", ratio <= 1 / 3)
        for name, ratio in ratios.items()
    ]


def _trust(honest, spoilt):
    without = [read for name, reads in spoilt.items() if name.startswith("no_return") for read in reads]
    untrusted = [read for name, reads in spoilt.items() if not name.startswith("no_return") for read in reads]
    good = _flat(honest)
    refused = 100 * np.mean([not read.reading.usable and read.named for read in untrusted])
    wrongly = 100 * np.mean([not read.answered for read in good])
    known = [read for read in good + untrusted if read.trace.systolic_mmhg is not None]
    silent = [read.answered and not read.reading.flags and abs(read.error) > FAR_WRONG_MMHG for read in known]
    recognised = [
        not read.reading.usable and FlagCode.NO_RETURN in {flag.code for flag in read.reading.flags}
        for read in without
    ]
    invented = sum(read.answered for read in without)
    return [
        _figure(
            "untrusted recordings refused with the right flag", refused, "%", "at least 97", refused >= 97
        ),
        _figure("good recordings refused", wrongly, "%", "at most 2", wrongly <= 2),
        _figure(
            f"more than {FAR_WRONG_MMHG} mmHg wrong, usable and without a flag",
            100 * np.mean(silent),
            "%",
            "at most 2",
            np.mean(silent) <= 0.02,
        ),
        _figure(
            "no return recognised", 100 * np.mean(recognised), "%", "at least 95", np.mean(recognised) >= 0.95
        ),
        _figure("values invented where nothing returned", invented, "", "none", invented == 0),
    ]


def _speed():
    """Processor time of recordings of a minute at 100 Hz, beside the change-point library's.

    In a process of its own that may use one core: otherwise the algebra's idle helpers are counted too.
    """
    alone = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
    told = subprocess.run(
        [sys.executable, "-m", "bench._trace_speed"], env=alone, capture_output=True, text=True, check=True
    )
    ours, theirs = json.loads(told.stdout)
    return [
        _figure("a recording of 60 s at 100 Hz, one core", 1000 * ours, "ms", "at most 5", ours <= 0.005),
        _figure(
            "the same over the change-point library's search", ours / theirs, "times", "no limit set", True
        ),
    ]


def _figure(name, value, unit, must, met):
    return {
        "name": f"traces, {name}",
        "value": round(float(value), 2),
        "unit": unit,
        "must": must,
        "met": bool(met),
    }
