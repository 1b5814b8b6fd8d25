"""A short made-up recording for tests of sending, whole or in pieces of a second. Nobody reads it."""

import math

PLACE = {"side": "right", "site": "toe_1", "attempt": 1, "technique": "two_cuffs"}
HZ = 50


def recording(seconds: int = 8) -> dict[str, list[float]]:
    samples = range(seconds * HZ)
    return {
        "time_s": [round(one / HZ, 2) for one in samples],
        "cuff_mmhg": [round(140 - 3 * one / HZ, 2) for one in samples],
        "signal": [round(math.sin(one / 8), 3) for one in samples],
    }


def piece(number: int) -> dict[str, list[float]]:
    """Second ``number`` of it, from 1."""
    return {name: values[(number - 1) * HZ : number * HZ] for name, values in recording().items()}
