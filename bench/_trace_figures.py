"""Draws the figures of docs/return-of-flow.md: ``.venv/bin/python -m bench._trace_figures``."""

from dataclasses import dataclass
from html import escape
from pathlib import Path
from textwrap import wrap

import numpy as np

from bench._trace_methods import change_point, prepared, threshold, two_lines
from bench.traces import by_trust, every_family, general_errors, mean_absolute
from exams.hemodynamics import NotStated, read_trace, simulate_trace

IMAGES = Path(__file__).resolve().parents[1] / "docs/images"
INK, SOFT, SIGNAL, CUFF, MARK, TRUE = "#1d2430", "#6b7280", "#14507a", "#a33d2b", "#0b6e4f", "#1d2430"
HARD = (
    ("leaking_occlusion", 5, "The cuff leaks"),
    ("started_too_low", 7, "The cuff started below systolic"),
    ("stopped_too_early", 9, "Stopped before the return"),
    ("gap_at_start", 6, "Samples missing at the start"),
    ("step_before_start", 3, "The sensor slipped before the start"),
    ("slow_venous_refill", 4, "Veins refill the pulp slowly"),
    ("irregular_rhythm", 4, "Irregular rhythm"),
    ("no_return_with_movement", 4, "Nothing returns, the foot moves"),
)


def main():
    figures = {"recording": _recording, "start": _start, "hard": _hard, "errors": _errors}
    for name, draw in figures.items():
        path = IMAGES / f"return-of-flow-{name}.svg"
        path.write_text(draw() + "\n", encoding="utf-8")
        print(path)


@dataclass(frozen=True)
class Panel:
    """A rectangle of the picture with its own scales; ``left`` to ``right`` may run downwards in value."""

    x: float
    y: float
    width: float
    height: float
    left: float
    right: float
    low: float
    high: float

    def at(self, across, up):
        return (
            self.x + (np.asarray(across) - self.left) / (self.right - self.left) * self.width,
            self.y + self.height - (np.asarray(up) - self.low) / (self.high - self.low) * self.height,
        )

    def curve(self, across, up, colour, width=1.2, dashes=""):
        across, up = self._thinned(across, up)
        shown = np.isfinite(up)
        # A gap is a gap: the line is not drawn across it.
        breaks = np.flatnonzero(~shown | np.concatenate(([False], np.abs(np.diff(across)) > 0.5)))
        parts = np.split(np.arange(len(across)), breaks)
        return "".join(
            _line(*self.at(across[part], up[part]), colour, width, dashes)
            for part in (kept[shown[kept]] for kept in parts)
            if part.size > 1
        )

    def _thinned(self, across, up):
        """The lowest and the highest of the samples that fall on one and the same place of the picture."""
        place = (self.at(across, 0)[0] / 1.2).astype(int)
        starts = np.flatnonzero(np.diff(place, prepend=place[0] - 1))
        runs = np.split(np.arange(len(up)), starts[1:])
        kept = [
            sorted({run[np.argmin(up[run])], run[np.argmax(up[run])]})
            for run in runs  # where a value is missing both are that one, and the gap stays
        ]
        order = np.concatenate(kept)
        return across[order], up[order]

    def upright(self, across, colour, words="", row=0, dashes=""):
        x, _ = self.at(across, 0)
        top = self.y - 6 - 15 * row
        line = _line(
            np.array([x, x]),
            np.array([top - 8 if words else top, self.y + self.height]),
            colour,
            1.4,
            dashes,
        )
        return line + (_text(x - 5, top, words, colour, anchor="end") if words else "")

    def frame(self):
        return _line(
            np.array([self.x, self.x, self.x + self.width]),
            np.array([self.y, self.y + self.height, self.y + self.height]),
            SOFT,
            1,
        )

    def scale(self, values, words):
        out = []
        for value in values:
            x, _ = self.at(value, self.low)
            bottom = self.y + self.height
            out.append(_line(np.array([x, x]), np.array([bottom, bottom + 4]), SOFT, 1))
            out.append(_text(x, bottom + 17, f"{value:g}", SOFT, anchor="middle"))
        out.append(_text(self.x + self.width, self.y + self.height + 33, words, SOFT, anchor="end"))
        return "".join(out)


def _recording():
    """A whole recording against time, with the parts that the reader names."""
    trace = simulate_trace(seed=12, systolic_mmhg=72)
    reading = read_trace(trace.time_s, trace.cuff_mmhg, trace.signal)
    end = trace.time_s[-1]
    signal = Panel(60, 60, 800, 200, 0, end, trace.signal.min(), trace.signal.max())
    cuff = Panel(60, 290, 800, 120, 0, end, 0, trace.cuff_mmhg.max() * 1.05)
    out = [signal.frame(), cuff.frame()]
    for place, phase in enumerate(reading.phases):
        begins, _ = signal.at(phase.start_s, 0)
        ends, _ = signal.at(phase.end_s, 0)
        shade = ' fill="#eef1f4"' if place % 2 else ' fill="#ffffff"'
        out.insert(0, f'<rect x="{begins:.1f}" y="60" width="{ends - begins:.1f}" height="350"{shade}/>')
        out.append(_text((begins + ends) / 2, 50 - 14 * (place % 2), str(phase.name), SOFT, "middle"))
    mark = reading.mark
    inside = (trace.cuff_mmhg <= mark.high_mmhg) & (trace.cuff_mmhg >= mark.low_mmhg)
    during = trace.time_s[inside & (trace.time_s > mark.time_s - 10) & (trace.time_s < mark.time_s + 10)]
    x1, _ = signal.at(during[0], 0)
    x2, _ = signal.at(during[-1], 0)
    out.append(f'<rect x="{x1:.1f}" y="60" width="{x2 - x1:.1f}" height="350" fill="{MARK}" opacity="0.15"/>')
    out.append(signal.curve(trace.time_s, trace.signal, SIGNAL))
    out.append(cuff.curve(trace.time_s, trace.cuff_mmhg, CUFF, 1.6))
    out.append(signal.upright(mark.time_s, MARK))
    out.append(cuff.upright(mark.time_s, MARK))
    out.append(cuff.scale(range(0, int(end), 10), "time, seconds"))
    for value in (0, 40, 80, 120):
        if value < cuff.high:
            _, y = cuff.at(0, value)
            out.append(_text(54, y + 4, f"{value}", SOFT, "end"))
    out.append(_text(float(during[0]) / end * 800 + 50, 90, "light sensor, blood upwards", SIGNAL, "end"))
    out.append(_text(64, 304, "cuff pressure, mmHg", CUFF))
    x, y = cuff.at(mark.time_s, mark.pressure_mmhg)
    words = (
        f"start of the rise: {mark.pressure_mmhg:.0f} mmHg "
        f"({mark.low_mmhg:.0f} to {mark.high_mmhg:.0f}); true {trace.systolic_mmhg:.0f}"
    )
    out.append(_text(x - 12, y + 26, words, MARK, "end"))
    return _picture(880, 455, "A whole recording of a toe, and its parts", out)


def _start():
    """The start against falling cuff pressure: beats, and where each way of reading puts the mark."""
    trace = simulate_trace(seed=8, systolic_mmhg=80, deflation_mmhg_per_s=2.5, rate_per_min=62)
    reading = read_trace(trace.time_s, trace.cuff_mmhg, trace.signal)
    stretch = prepared(trace)
    near = (trace.time_s > trace.ideal_time_s - 7) & (trace.time_s < trace.ideal_time_s + 11)
    time_s, cuff, signal = trace.time_s[near], trace.cuff_mmhg[near], trace.signal[near]
    cuff = np.interp(time_s, time_s[::10], cuff[::10])
    room = np.ptp(signal)
    panel = Panel(40, 120, 820, 290, cuff[0], cuff[-1], signal.min() - 0.05 * room, signal.max())
    mark = reading.mark
    x1, _ = panel.at(mark.high_mmhg, 0)
    x2, _ = panel.at(mark.low_mmhg, 0)
    out = [f'<rect x="{x1:.1f}" y="120" width="{x2 - x1:.1f}" height="290" fill="{MARK}" opacity="0.13"/>']
    out += [panel.frame(), panel.curve(cuff, signal, SIGNAL, 1.4)]
    for beat in reading.beats:
        if time_s[0] < beat.time_s < time_s[-1]:
            x, y = panel.at(beat.cuff_mmhg, beat.level)
            out.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4" fill="{SIGNAL}"/>')
    lines = (
        (trace.systolic_mmhg, TRUE, "true systolic", ""),
        (mark.pressure_mmhg, MARK, "suggested, with its interval", ""),
        (trace.ideal_mmhg, SOFT, "first beat that passes", "3 3"),
        (two_lines(*stretch), CUFF, "two straight lines", "7 3"),
        (change_point(*stretch), CUFF, "change point", "2 3"),
        (threshold(*stretch), CUFF, "a tenth of the rise", "9 3 2 3"),
    )
    for row, (value, colour, words, dashes) in enumerate(sorted(lines, key=lambda line: -line[0])):
        out.append(panel.upright(value, colour, f"{words}: {value:.1f}", row, dashes))
    first, last = int(np.ceil(cuff[-1] / 5) * 5), int(cuff[0])
    out.append(panel.scale(range(first, last, 5), "cuff pressure, mmHg, falling to the right"))
    return _picture(880, 455, "The soft start, and where each way of reading puts it", out)


def _hard():
    """Recordings that mislead, each with what the reader says of it."""
    out = []
    for place, (family, seed, words) in enumerate(HARD):
        trace = simulate_trace(family=family, seed=seed, systolic_mmhg=84, severity=0.6)
        reading = read_trace(trace.time_s, trace.cuff_mmhg, trace.signal, kind=trace.kind)
        x, y = 30 + 430 * (place % 2), 50 + 205 * (place // 2)
        known = trace.signal[np.isfinite(trace.signal)]
        end = trace.time_s[-1]
        panel = Panel(x, y, 400, 110, 0, end, known.min(), known.max())
        cuff = Panel(x, y, 400, 110, 0, end, 0, trace.cuff_mmhg.max())
        out += [panel.frame(), cuff.curve(trace.time_s, trace.cuff_mmhg, CUFF, 1)]
        out.append(panel.curve(trace.time_s, trace.signal, SIGNAL, 1))
        if trace.ideal_time_s is not None:
            out.append(panel.upright(trace.ideal_time_s, SOFT, dashes="3 3"))
        if not isinstance(reading.mark, NotStated):
            out.append(panel.upright(reading.mark.time_s, MARK))
        out.append(_text(x, y - 12, words, INK, weight="bold"))
        out.append(_text(x, y + 128, _said(reading, trace), INK))
        flags = ", ".join(flag.code.replace("_", " ") for flag in reading.flags)
        for row, line in enumerate(wrap(f"flags: {flags}" if flags else "no flag", 58)):
            out.append(_text(x, y + 144 + 15 * row, line, SOFT))
    height = 50 + 205 * ((len(HARD) + 1) // 2) - 20
    return _picture(880, height, "Recordings that mislead, and what is said of them", out)


def _errors():
    """Mean absolute error of each family: ours, the ideal reader's, the general methods'."""
    honest, _ = by_trust(every_family())
    widest = 14.0
    panel = Panel(190, 70, 660, 20 * len(honest), 0, widest, 0, 1)
    marks = {"threshold": "△", "two lines": "□", "change point": "◇"}
    out = [_text(190, 30, "● suggested by the reader", MARK), _text(380, 30, "| ideal reader", INK)]
    words = " · ".join(f"{sign} {name}" for name, sign in marks.items())
    out.append(_text(500, 30, words, CUFF))
    for row, (family, reads) in enumerate(honest.items()):
        y = panel.y + 20 * row + 10
        out.append(_line(np.array([panel.x, panel.x + panel.width]), np.array([y, y]), "#e3e6ea", 1))
        out.append(_text(180, y + 4, family.replace("_", " "), INK, "end"))
        answered = [read for read in reads if read.answered]
        for name, sign in marks.items():
            _dot(out, panel, mean_absolute(general_errors(reads, name)), y, sign, CUFF)
        _dot(out, panel, mean_absolute([read.ideal_error for read in answered]), y, "|", INK)
        _dot(out, panel, mean_absolute([read.error for read in answered]), y, "●", MARK)
    out.append(panel.frame())
    out.append(
        panel.scale(range(0, int(widest) + 1, 2), "mean absolute error against the true systolic, mmHg")
    )
    return _picture(880, panel.y + panel.height + 45, "Error of each family of recordings", out)


def _dot(out, panel, value, y, sign, colour):
    x, _ = panel.at(min(value, panel.right), 0)
    out.append(_text(x, y + 5, sign, colour, "middle"))


def _said(reading, trace):
    true = "none" if trace.systolic_mmhg is None else f"{trace.systolic_mmhg:.0f}"
    if isinstance(reading.mark, NotStated):
        return f"no pressure; true systolic: {true}"
    mark = reading.mark
    shown = f"{mark.pressure_mmhg:.0f} mmHg ({mark.low_mmhg:.0f} to {mark.high_mmhg:.0f})"
    return f"{shown if reading.usable else f'not to be reported: {shown}'}; true systolic: {true}"


def _line(xs, ys, colour, width, dashes=""):
    points = " ".join(f"{x:.1f},{y:.1f}" for x, y in zip(np.ravel(xs), np.ravel(ys), strict=True))
    pattern = f' stroke-dasharray="{dashes}"' if dashes else ""
    return f'<polyline points="{points}" fill="none" stroke="{colour}" stroke-width="{width}"{pattern}/>\n'


def _text(x, y, words, colour, anchor="start", weight="normal"):
    return (
        f'<text x="{float(x):.1f}" y="{float(y):.1f}" fill="{colour}" text-anchor="{anchor}" '
        f'font-weight="{weight}">{escape(words)}</text>\n'
    )


def _picture(width, height, title, parts):
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" role="img" '
        f'font-family="sans-serif" font-size="13">\n<title>{escape(title)}</title>\n'
        f'<rect width="{width}" height="{height}" fill="#ffffff"/>\n{"".join(parts)}</svg>'
    )


if __name__ == "__main__":
    main()
