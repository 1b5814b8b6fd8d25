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


def checksum(content: bytes) -> str:
    """SHA-256, as hexadecimal text."""
    return hashlib.sha256(content).hexdigest()
