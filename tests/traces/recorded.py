"""One simulated recording as the files in which it could come."""

import io

import numpy as np
from edfio import Edf, EdfSignal

from exams.hemodynamics import simulate_trace

TRACE = simulate_trace(family="clean", seed=3, systolic_mmhg=90, sampling_hz=50)


def table(header="time_s,cuff_mmhg,ppg", *, separator=",", comma=False, time=1.0, cuff=1.0):
    """A text table; ``time`` and ``cuff`` are factors that change the units."""
    lines = [header] if header else []
    for row in zip(TRACE.time_s * time, TRACE.cuff_mmhg * cuff, TRACE.signal, strict=True):
        text = separator.join(f"{value:.5f}" for value in row)
        lines.append(text.replace(".", ",") if comma else text)
    return "\n".join(lines).encode()


def edf(cuff_hz=25):
    """Cuff and sensor at different rates, as recorders do it."""
    seconds = int(TRACE.time_s[-1])
    slow, quick = np.arange(0, seconds, 1 / cuff_hz), np.arange(0, seconds, 1 / 50)
    signals = [
        EdfSignal(
            np.interp(slow, TRACE.time_s, TRACE.cuff_mmhg), cuff_hz, label="Cuff", physical_dimension="mmHg"
        ),
        EdfSignal(np.interp(quick, TRACE.time_s, TRACE.signal), 50, label="PPG", physical_dimension="V"),
    ]
    file = io.BytesIO()
    Edf(signals).write(file)
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
    return [("rec.hea", header.encode()), ("rec.dat", _packed(both, form))]


def _packed(rows, form):
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
