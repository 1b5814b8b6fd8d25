"""Prints the processor seconds a recording of a minute at 100 Hz costs: our reader, the library's search."""

import itertools
import json
import time

from bench._trace_methods import change_point, prepared
from exams.hemodynamics import read_trace, simulate_trace

FIRST_SEED = 20_000
RECORDINGS = 8
REPEATS = 9


def main():
    minutes = list(itertools.islice(_of_a_minute(), RECORDINGS))
    stretches = [prepared(trace) for trace in minutes]
    ours = _shortest(read_trace, [(trace.time_s, trace.cuff_mmhg, trace.signal) for trace in minutes])
    print(json.dumps([ours, _shortest(change_point, stretches)]))


def _of_a_minute():
    for seed in itertools.count(FIRST_SEED):
        trace = simulate_trace(seed=seed, systolic_mmhg=60, deflation_mmhg_per_s=1.5)
        if 55 <= trace.time_s[-1] <= 65:
            yield trace


def _shortest(method, recordings):
    """The mean over the recordings of the quickest run of each: other work on the machine only adds."""
    return sum(min(_taken(method, one) for _ in range(REPEATS)) for one in recordings) / len(recordings)


def _taken(method, recording):
    started = time.process_time()
    method(*recording)
    return time.process_time() - started


if __name__ == "__main__":
    main()
