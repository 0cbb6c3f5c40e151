"""GROWTH.md and its plots, from what was measured.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from speed import memory
from speed.growth import Growth
from speed.sweeps import Took

WIDE, HIGH, EDGE = 230, 150, 40


def plot(growths: Sequence[Growth]) -> str:
    """SVG: for each the points and their straight line, side by side."""
    body = []
    for n, one in enumerate(growths):
        most_n, most_ms = max(one.counts), max(one.ms)
        left, bottom = EDGE + n * (WIDE + EDGE), HIGH + EDGE
        slope, base = one.line

        first, last = min(one.counts), most_n
        (x1, y1), (x2, y2) = ((left + WIDE * c / most_n, bottom - HIGH * max(base + slope * c, 0.0) / most_ms) for c in (first, last))
        body += [
            f'<text x="{left}" y="16">{one.title}</text>',
            f'<path d="M{left} {bottom - HIGH}V{bottom}H{left + WIDE}" fill="none" stroke="#888"/>',
            f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" stroke="#3b6ea5"/>',
            *(f'<circle cx="{left + WIDE * c / most_n:.1f}" cy="{bottom - HIGH * ms / most_ms:.1f}" r="3" fill="#c77b30"/>'
              for c, ms in zip(one.counts, one.ms, strict=True)),
            f'<text x="{left + WIDE}" y="{bottom + 16}" text-anchor="end">{most_n} {one.thing}s</text>',
            f'<text x="{left + 4}" y="{bottom - HIGH + 12}">{most_ms:.0f} ms</text>',
            f'<text x="{left + WIDE}" y="{bottom - 8}" text-anchor="end">{slope:.2f} ms each</text>']
    wide, high = EDGE + len(growths) * (WIDE + EDGE), HIGH + 2 * EDGE
    return "\n".join((f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {high}" font-family="sans-serif" font-size="11">',
                      '<rect width="100%" height="100%" fill="#ffffff"/>', *body, "</svg>", ""))


def write(folder: Path, growths: Sequence[Growth], sweeps: Sequence[tuple[str, int, int, Took]], when: str) -> None:
    """Both files. sweeps: part, pins, vectors, what a sweep of it took; when: date, commit, command."""
    rows = [f"| {one.title} | {one.thing} | {one.line[0]:.2f} ms | {one.line[1]:.1f} ms | {100 * one.left_over:.1f} % |" for one in growths]
    parts = [f"| {name} | {pins} | {vectors} | {took.conversions} | {took.ms:.0f} | {took.ratio:.3f} |"
             for name, pins, vectors, took in sweeps]
    (folder / "growth.svg").write_text(plot(growths))
    (folder / "GROWTH.md").write_text("\n".join((
        "<!-- Written by `python -m speed growth`: change that, not this. -->", "# What time grows with", "",
        f"Simulated time of the real image; {when}.", "",
        "![time over pins, vectors, load points](growth.svg)", "",
        "| pass | grows with | each | at none (of the straight line) | farthest from the line |", "|---|---|---|---|---|", *rows, "",
        "Whole sweeps of sound chips, contact to discharge; last: logic passes' time over their conversions' 13 clocks.",
        "", "| part | pins | vectors | conversions | ms | logic passes |", "|---|---|---|---|---|---|", *parts, "", *_memory(), "")))


def _memory() -> Sequence[str]:
    """The long run's memory, as far as it has come."""
    kept = memory.kept()
    return (f"Memory of host and virtual fixture in one process over a box of chips ({kept['when']}): {kept['first_mb']} MB after",
            f"{kept['first_chips']} chips, {kept['last_mb']} MB after {kept['chips']}, {kept['most_mb']} MB at most.")
