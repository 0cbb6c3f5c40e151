"""Pages as SVG files and as one PDF.

    python -m hardware.schematic.paper OUT       # OUT/schematic.pdf and OUT/schematic-N.svg

The PDF is written by hand: lines and Helvetica need nothing but the operators of ISO 32000-1, 8.4 and 9.4.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""

from __future__ import annotations

import math
import sys
from pathlib import Path
from xml.sax.saxutils import escape

from hardware.board.design import HERE
from hardware.schematic import reader
from hardware.schematic.pages import COLOURS, PAPER, Mark, Word, page
from hardware.wiring import load

POINT = 72 / 25.4  # points a millimetre
CAPITAL = 0.718  # height of Helvetica's capitals by font size (Adobe's font metrics, CapHeight)
# Advance widths of Helvetica by thousandths of the font size, characters 32 to 126 (Adobe's font metrics; from memory, used to align only).
WIDTHS = (
    278,
    278,
    355,
    556,
    556,
    889,
    667,
    191,
    333,
    333,
    389,
    584,
    278,
    333,
    278,
    278,
    *[556] * 10,
    278,
    278,
    584,
    584,
    584,
    556,
    1015,
    667,
    667,
    722,
    722,
    667,
    611,
    778,
    722,
    278,
    500,
    667,
    556,
    833,
    722,
    778,
    667,
    778,
    722,
    667,
    611,
    722,
    667,
    944,
    667,
    667,
    611,
    278,
    278,
    278,
    469,
    556,
    333,
    556,
    556,
    500,
    556,
    556,
    278,
    556,
    556,
    222,
    222,
    500,
    222,
    833,
    556,
    556,
    556,
    556,
    333,
    500,
    278,
    556,
    500,
    722,
    500,
    500,
    500,
    334,
    260,
    334,
    584,
)


def width(word: Word) -> float:
    """Millimetres a word takes."""
    return sum(WIDTHS[ord(c) - 32] if 32 <= ord(c) < 127 else 556 for c in word.say) / 1000 * word.size / CAPITAL


def svg(marks: list[Mark]) -> str:
    """A page as SVG."""
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {PAPER[0]:g} {PAPER[1]:g}" width="{PAPER[0]:g}mm" height="{PAPER[1]:g}mm">',
        '<rect width="100%" height="100%" fill="white"/>',
    ]
    for m in marks:
        colour = COLOURS[m.colour]
        if isinstance(m, Word):
            turn = f' transform="rotate({-m.degrees:g} {m.at[0]:.2f} {m.at[1]:.2f})"' if m.degrees else ""
            anchor = {"left": "start", "middle": "middle", "right": "end"}[m.anchor]
            out.append(
                f'<text x="{m.at[0]:.2f}" y="{m.at[1]:.2f}"{turn} font-family="Helvetica, Arial, sans-serif" font-size="{m.size / CAPITAL:.2f}" '
                f'text-anchor="{anchor}" fill="{colour}">{escape(m.say)}</text>'
            )
        else:
            points = " ".join(f"{x:.2f},{y:.2f}" for x, y in m.points)
            out.append(
                f'<polyline points="{points}" fill="{colour if m.filled else "none"}" stroke="{colour}" stroke-width="{m.width:g}"/>'
            )
    return "\n".join([*out, "</svg>"]) + "\n"


def _stream(marks: list[Mark]) -> str:
    """A page's operators."""
    out = ["1 J 1 j"]
    for m in marks:
        rgb = " ".join(f"{int(COLOURS[m.colour][i : i + 2], 16) / 255:.3f}" for i in (1, 3, 5))
        if isinstance(m, Word):
            back = {"left": 0.0, "middle": 0.5, "right": 1.0}[m.anchor] * width(m)
            c, s = math.cos(math.radians(m.degrees)), math.sin(math.radians(m.degrees))
            x, y = (m.at[0] - back * c) * POINT, (PAPER[1] - m.at[1] - back * s) * POINT
            say = m.say.replace("\\", "\\\\").replace("(", "\\(").replace(")", "\\)")
            out.append(
                f"BT {rgb} rg /F1 {m.size / CAPITAL * POINT:.2f} Tf {c:.4f} {s:.4f} {-s:.4f} {c:.4f} {x:.2f} {y:.2f} Tm ({say}) Tj ET"
            )
        else:
            way = " ".join(
                f"{x * POINT:.2f} {(PAPER[1] - y) * POINT:.2f} {'l' if i else 'm'}" for i, (x, y) in enumerate(m.points)
            )
            out.append(f"{rgb} RG {rgb} rg {m.width * POINT:.2f} w {way} {'b' if m.filled else 'S'}")
    return "\n".join(out)


def pdf(pages: list[list[Mark]]) -> bytes:
    """All pages in one file (ISO 32000-1, 7.5: header, objects, table of their places, trailer)."""
    size = f"[0 0 {PAPER[0] * POINT:.2f} {PAPER[1] * POINT:.2f}]"
    kids = " ".join(f"{4 + 2 * i} 0 R" for i in range(len(pages)))
    objects = [
        "<< /Type /Catalog /Pages 2 0 R >>",
        f"<< /Type /Pages /Kids [{kids}] /Count {len(pages)} >>",
        "<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica /Encoding /WinAnsiEncoding >>",
    ]
    for i, marks in enumerate(pages):
        stream = _stream(marks)
        objects.append(
            f"<< /Type /Page /Parent 2 0 R /MediaBox {size} /Resources << /Font << /F1 3 0 R >> >> /Contents {5 + 2 * i} 0 R >>"
        )
        objects.append(f"<< /Length {len(stream.encode('cp1252'))} >>\nstream\n{stream}\nendstream")
    out, places = b"%PDF-1.4\n", []
    for number, body in enumerate(objects, 1):
        places.append(len(out))
        out += f"{number} 0 obj\n{body}\nendobj\n".encode("cp1252")
    table = "".join(f"{place:010d} 00000 n \n" for place in places)
    return (
        out
        + (
            f"xref\n0 {len(objects) + 1}\n0000000000 65535 f \n{table}trailer\n<< /Size {len(objects) + 1} /Root 1 0 R >>\n"
            f"startxref\n{len(out)}\n%%EOF\n"
        ).encode()
    )


def main() -> int:
    """Write the PDF and the SVG pages."""
    out = Path(sys.argv[1] if len(sys.argv) > 1 else "build/board")
    out.mkdir(parents=True, exist_ok=True)
    pages = [page(tree) for _, tree in reader.sheets(HERE / f"{load()['fixture']['name']}.kicad_sch")]
    (out / "schematic.pdf").write_bytes(pdf(pages))
    for number, marks in enumerate(pages, 1):
        (out / f"schematic-{number}.svg").write_text(svg(marks))
    print(f"{len(pages)} pages in {out / 'schematic.pdf'}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
