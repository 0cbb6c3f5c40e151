"""The few shapes that the drawings of the reduced build and of the build book are made of.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""

from __future__ import annotations

from html import escape

INK, PALE, PAPER, MARK = "#1b1b1b", "#6b6b6b", "#ffffff", "#b3261e"


class Drawing:
    """An SVG in user units; `y` grows downwards."""

    def __init__(self, width: float, height: float) -> None:
        self.width, self.height = width, height
        self._body: list[str] = []

    def rect(self, x: float, y: float, w: float, h: float, *, fill: str = PAPER, ink: str = INK, pen: float = 1.2, r: float = 0) -> None:
        self._body.append(f'<rect x="{x:g}" y="{y:g}" width="{w:g}" height="{h:g}" rx="{r:g}" fill="{fill}" stroke="{ink}" '
                          f'stroke-width="{pen:g}"/>')

    def line(self, *points: tuple[float, float], ink: str = INK, pen: float = 1.2) -> None:
        at = " ".join(f"{x:g},{y:g}" for x, y in points)
        self._body.append(f'<polyline points="{at}" fill="none" stroke="{ink}" stroke-width="{pen:g}"/>')

    def circle(self, x: float, y: float, r: float, *, fill: str = PAPER, ink: str = INK, pen: float = 1.2) -> None:
        self._body.append(f'<circle cx="{x:g}" cy="{y:g}" r="{r:g}" fill="{fill}" stroke="{ink}" stroke-width="{pen:g}"/>')

    def path(self, d: str, *, fill: str = "none", ink: str = INK, pen: float = 1.2, round_ends: bool = False) -> None:
        ends = ' stroke-linecap="round"' if round_ends else ""
        self._body.append(f'<path d="{d}" fill="{fill}" stroke="{ink}" stroke-width="{pen:g}"{ends}/>')

    def text(self, x: float, y: float, say: str, *, size: float = 12, at: str = "start", ink: str = INK, bold: bool = False,
             turn: float = 0, middle: bool = False) -> None:
        """`at`: start, middle or end; y is the baseline, or with `middle` the letters' middle; `turn`: degrees clockwise."""
        more = ' font-weight="bold"' if bold else ""
        more += ' dominant-baseline="central"' if middle else ""
        more += f' transform="rotate({turn:g} {x:g} {y:g})"' if turn else ""
        self._body.append(f'<text x="{x:g}" y="{y:g}" font-size="{size:g}" text-anchor="{at}" fill="{ink}"{more}>{escape(say)}</text>')

    def done(self, notice: str) -> str:
        """The file."""
        return (f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {self.width:g} {self.height:g}" '
                f'font-family="DejaVu Sans, Arial, sans-serif">\n<!-- {notice} -->\n'
                f'<rect width="100%" height="100%" fill="{PAPER}"/>\n' + "\n".join(self._body) + "\n</svg>\n")
