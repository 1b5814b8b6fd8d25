"""One simulated recording as the files in which it could come."""

import io

import numpy as np
from edfio import Bdf, BdfSignal, Edf, EdfSignal

from exams.hemodynamics import simulate_trace

TRACE = simulate_trace(family="clean", seed=3, systolic_mmhg=90, sampling_hz=50)


def table(header="time_s,cuff_mmhg,ppg", *, separator=",", comma=False, time=1.0, cuff=1.0):
    """A text table; ``time`` and ``cuff`` are factors that change the units."""
    lines = [header] if header else []
    for row in zip(TRACE.time_s * time, TRACE.cuff_mmhg * cuff, TRACE.signal, strict=True):
        text = separator.join(f"{value:.5f}" for value in row)
        lines.append(text.replace(".", ",") if comma else text)
    return "\n".join(lines).encode()


def edf(cuff_hz=25, bits=16):
    """Cuff and sensor at different rates, as recorders do it."""
    File, Signal = (Edf, EdfSignal) if bits == 16 else (Bdf, BdfSignal)
    seconds = int(TRACE.time_s[-1])
    slow, quick = np.arange(0, seconds, 1 / cuff_hz), np.arange(0, seconds, 1 / 50)
    signals = [
        Signal(
            np.interp(slow, TRACE.time_s, TRACE.cuff_mmhg), cuff_hz, label="Cuff", physical_dimension="mmHg"
        ),
        Signal(np.interp(quick, TRACE.time_s, TRACE.signal), 50, label="PPG", physical_dimension="V"),
    ]
    file = io.BytesIO()
    File(signals).write(file)
    return file.getvalue()


def wfdb(form="16"):
    """The two files of a record, in one of the published formats."""
    cuff = np.round(TRACE.cuff_mmhg * 8).astype(int)
    low, span = TRACE.signal.min(), np.ptp(TRACE.signal)
    pulp = np.round((TRACE.signal - low) / span * 3000 - 1500).astype(int)
    both = np.stack([cuff, pulp], axis=1)
    header = (
        f"rec 2 50 {len(cuff)}\n"
        f"rec.dat {form} 8(0)/mmHg 12 0 0 0 0 Cuff pressure\n"
        f"rec.dat {form} 1000(0)/V 12 0 0 0 0 PPG\n"
    )
    return [("rec.hea", header.encode()), ("rec.dat", in_format(form, both))]


def wfdb_in_segments():
    """The same in two halves, each with its header, and the header that names them."""
    (_, header), (_, signals) = wfdb()
    first, frames = len(signals) // 8, len(signals) // 4
    files = [("whole.hea", f"whole/2 2 50 {frames}\nhalf1 {first}\nhalf2 {frames - first}\n".encode())]
    for name, part in (("half1", signals[: 4 * first]), ("half2", signals[4 * first :])):
        own = header.replace(b"rec", name.encode()).replace(b" 50 %d" % frames, b" 50 %d" % (len(part) // 4))
        files += [(f"{name}.hea", own), (f"{name}.dat", part)]
    return files


def in_format(form, rows):
    """Rows of integers, a column a signal, as signal(5) packs them."""
    if form == "160":
        return (rows + 32768).astype("<u2").tobytes()
    if form in ("310", "311"):
        return b"".join(_three_of_ten_bits(*three, form) for three in (rows.reshape(-1, 3) & 0x3FF).tolist())
    if form == "16":
        return rows.astype("<i2").tobytes()
    if form == "61":
        return rows.astype(">i2").tobytes()
    if form == "32":
        return rows.astype("<i4").tobytes()
    flat = rows.reshape(-1)
    if form == "24":
        return b"".join(int(value).to_bytes(3, "little", signed=True) for value in flat)
    packed = bytearray()
    for first, second in flat.reshape(-1, 2) & 0xFFF:
        packed += bytes((first & 0xFF, first >> 8 | (second >> 8) << 4, second & 0xFF))
    return bytes(packed)


def _three_of_ten_bits(first, second, third, form):
    if form == "311":
        return (first | second << 10 | third << 20).to_bytes(4, "little")
    words = first << 1 | (third & 0x1F) << 11, second << 1 | (third >> 5) << 11
    return b"".join(word.to_bytes(2, "little") for word in words)
