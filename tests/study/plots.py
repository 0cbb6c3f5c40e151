"""Two small drawings for the page: shares by group as dots with error bars, and what became of whom as stacked bars.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape

COLOURS = ("#3b6ea5", "#c77b30", "#5a9367", "#8a5a83", "#9a9a9a", "#b03a3a", "#d9c04d", "#404040")
LEFT, ROW, WIDE, TOP = 150, 22, 420, 34


def _frame(rows: int, body: Sequence[str], legend: Sequence[str]) -> str:
    high = TOP + rows * ROW + 30
    keys = [f'<rect x="{LEFT + k * 98}" y="6" width="10" height="10" fill="{COLOURS[k]}"/>'
            f'<text x="{LEFT + 14 + k * 98}" y="15">{escape(word)}</text>' for k, word in enumerate(legend)]
    return "\n".join((
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {max(LEFT + WIDE + 30, LEFT + 98 * len(legend))} {high}" '
        'font-family="sans-serif" font-size="11">', '<rect width="100%" height="100%" fill="#ffffff"/>',
        *keys, *body, "</svg>", ""))


def dots(groups: Mapping[str, Mapping[str, tuple[float, float]]], low: float, high: float,
         band: tuple[float, float]) -> str:
    """SVG. groups: row -> series -> (value, standard error); the axis goes from low to high, a band is shaded."""
    def at(value: float) -> float:
        return LEFT + WIDE * (min(max(value, low), high) - low) / (high - low)

    series = list(dict.fromkeys(name for row in groups.values() for name in row))
    bottom = TOP + len(groups) * ROW
    body = [f'<rect x="{at(band[0]):.1f}" y="{TOP}" width="{at(band[1]) - at(band[0]):.1f}" height="{bottom - TOP}" '
            'fill="#e4efe4"/>']
    for k, (row, values) in enumerate(groups.items()):
        y = TOP + k * ROW + ROW / 2
        body.append(f'<text x="{LEFT - 8}" y="{y + 4}" text-anchor="end">{escape(row)}</text>')
        for name, (value, error) in values.items():
            n = series.index(name)
            at_y = y + 4 * (n - (len(series) - 1) / 2)
            body.append(f'<line x1="{at(value - error):.1f}" x2="{at(value + error):.1f}" y1="{at_y}" y2="{at_y}" '
                        f'stroke="{COLOURS[n]}"/><circle cx="{at(value):.1f}" cy="{at_y}" r="2.5" fill="{COLOURS[n]}"/>')
    for k in range(6):
        value = low + (high - low) * k / 5
        body.append(f'<text x="{at(value):.1f}" y="{bottom + 16}" text-anchor="middle">{value:g} %</text>')
    return _frame(len(groups), body, series)


def bars(rows: Mapping[str, Mapping[str, int]]) -> str:
    """SVG. rows: name -> part -> count; every bar is as long as the row has cases, as shares."""
    parts = list(dict.fromkeys(name for row in rows.values() for name in row))
    body = []
    for k, (row, counts) in enumerate(rows.items()):
        y, x, whole = TOP + k * ROW, float(LEFT), sum(counts.values())
        body.append(f'<text x="{LEFT - 8}" y="{y + 14}" text-anchor="end">{escape(row)} ({whole})</text>')
        for name, count in counts.items():
            wide = WIDE * count / whole
            body.append(f'<rect x="{x:.1f}" y="{y + 3}" width="{wide:.1f}" height="{ROW - 6}" '
                        f'fill="{COLOURS[parts.index(name) % len(COLOURS)]}"/>')
            x += wide
    return _frame(len(rows), body, parts)
