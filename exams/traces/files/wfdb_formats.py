"""How WFDB stores samples, by signal(5): bytes in, integers out."""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
import numpy.typing as npt

Integers: TypeAlias = npt.NDArray[np.int32]

# What stands for "no sample" in each format, before anything else is done to it. Format 8 has no such value.
NO_SAMPLE = {
    "16": -32768,
    "61": -32768,
    "160": -32768,
    "212": -2048,
    "310": -512,
    "311": -512,
    "80": -128,
    "24": -(1 << 23),
    "32": -(1 << 31),
}
DIFFERENCES = "8"
FORMATS = frozenset({*NO_SAMPLE, DIFFERENCES})
COMPRESSED = frozenset({"508", "516", "524"})


def integers(data: bytes, form: str) -> Integers:
    """The stored numbers in their order; what does not fill a whole number at the end is left out."""
    if form == "16":
        return np.frombuffer(data[: len(data) // 2 * 2], "<i2").astype(np.int32)
    if form == "61":
        return np.frombuffer(data[: len(data) // 2 * 2], ">i2").astype(np.int32)
    if form == "160":
        return np.frombuffer(data[: len(data) // 2 * 2], "<u2").astype(np.int32) - 32768
    if form == "32":
        return np.frombuffer(data[: len(data) // 4 * 4], "<i4").astype(np.int32)
    if form == "80":
        return np.frombuffer(data, np.uint8).astype(np.int32) - 128
    if form == DIFFERENCES:
        return np.frombuffer(data, np.int8).astype(np.int32)
    if form == "24":
        first, second, third = _threes(data)
        return _signed(first | second << 8 | third << 16, 24)
    if form == "212":
        return _format_212(data)
    return _format_310(data) if form == "310" else _format_311(data)


def _format_212(data: bytes) -> Integers:
    """Two samples of twelve bits in three bytes; a last odd one takes two."""
    first, shared, last = _threes(data + b"\0" if len(data) % 3 == 2 else data)
    both = np.stack([first | (shared & 0x0F) << 8, last | (shared & 0xF0) << 4], axis=1)
    return _signed(both.reshape(-1), 12)


def _format_310(data: bytes) -> Integers:
    """Three samples of ten bits in two words: the lowest bit of each word is not used, the third sample is
    made of both words' upper five."""
    low, high, whole = _word_pairs(data)
    third = low >> 11 | (high >> 11) << 5
    return _signed(np.stack([low >> 1, high >> 1, third], axis=1).reshape(-1)[:whole] & 0x3FF, 10)


def _format_311(data: bytes) -> Integers:
    """Three samples of ten bits, one after the other from the lowest bit of four bytes."""
    low, high, whole = _word_pairs(data)
    second = low >> 10 | (high & 0x0F) << 6
    return _signed(np.stack([low, second, high >> 4], axis=1).reshape(-1)[:whole] & 0x3FF, 10)


def _threes(data: bytes) -> tuple[Integers, Integers, Integers]:
    rows = np.frombuffer(data[: len(data) // 3 * 3], np.uint8).reshape(-1, 3).astype(np.int32)
    return rows[:, 0], rows[:, 1], rows[:, 2]


def _word_pairs(data: bytes) -> tuple[Integers, Integers, int]:
    """First and second word of each pair, and how many samples are whole: half a pair holds one."""
    whole = len(data) // 4 * 3 + (len(data) % 4) // 2
    padded = data[: len(data) // 2 * 2]
    padded += b"\0" * (len(padded) % 4)
    rows = np.frombuffer(padded, "<u2").reshape(-1, 2).astype(np.int32)
    return rows[:, 0], rows[:, 1], whole


def _signed(values: Integers, bits: int) -> Integers:
    half = 1 << (bits - 1)
    return np.where(values >= half, values - 2 * half, values).astype(np.int32)
