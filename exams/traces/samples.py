"""A recording's samples as they are kept: three rows of numbers, pressed together, and their checksum."""

import hashlib
import zlib

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]


def pack(time_s: Floats, cuff_mmhg: Floats, signal: Floats) -> bytes:
    """Time, cuff pressure and signal as little-endian 64-bit numbers one row after the other, compressed."""
    return zlib.compress(np.stack([time_s, cuff_mmhg, signal]).astype("<f8").tobytes(), level=6)


def unpack(packed: bytes) -> tuple[Floats, Floats, Floats]:
    """What was packed: time_s, cuff_mmhg, signal, each of shape (n,)."""
    rows = np.frombuffer(zlib.decompress(packed), dtype="<f8").reshape(3, -1).astype(np.float64)
    return rows[0], rows[1], rows[2]


def checksum_of_samples(time_s: Floats, cuff_mmhg: Floats, signal: Floats) -> str:
    """The checksum of what ``pack`` presses together, so that it does not hang on how well it presses."""
    return checksum(np.stack([time_s, cuff_mmhg, signal]).astype("<f8").tobytes())


def sampling_hz_of(time_s: Floats) -> float | None:
    """Samples a second by the usual step, None where there is none."""
    steps = np.diff(time_s)
    usual = float(np.median(steps)) if len(steps) else 0.0
    return round(1 / usual, 3) if usual > 0 else None


def checksum(content: bytes) -> str:
    """SHA-256, as hexadecimal text."""
    return hashlib.sha256(content).hexdigest()
