"""RESULT.md: what the long runs have shown.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections import Counter
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from faults import killed, matrix, stopped, summary
from faults.runs import RUNS, kept
from faults.summary import Lines

HEAD = """# What happened when faults were injected by the thousand

Made by `python -m faults page` from what `make faults` has kept. All of it is simulation: nothing has been measured on copper.
"""
LINK = """
## A faulty line

The real host and the firmware's core built for this computer, in simulated time; every reading is a fingerprint of all that the
firmware has switched. Bit errors 1e-4 a bit, bytes lost and doubled 1e-4 a byte each, chunks (1 to 62 bytes) that change places 5e-3
and that are held up for up to 0.1 s 3e-3 a chunk, 1 to 24 bytes of noise after 1e-2 of the frames. A result is right if
readings, events, status and counts of a pass are those of the same pass over a clean line. Frames are counted as they are sent, both ways, again
included. A forged frame was never sent and passes the check sum of 16 bits: one in some 65,536 of the frames whose structure is broken must. It gives
a wrong result only if its number, kind and length fit too. Recovery: from the first fault to the next numbered frame that gets through.
"""
POWER = """
## Controller stopped, host killed

Milliseconds from the fault to the last look (each 0.25 ms) at which the virtual rails held more than 1 V or a supply switch was on, and at which a strong line drove
(high, or low into a supplied chip). Controller: the image in the simulator, in turn at each load point of the wiring, to each rail, at random moments. Frozen: the clock
stands still; the watchdog's own oscillator (32 ms nominal, 40 ms taken) resets the ports. Host: a process of its own that sweeps over a socket, with the real
guard on it; the time from the kill to the guard's last word is the wall clock's, what the device makes of it the fixture's. A host killed while it starts has
not powered anything yet; none of its children may be left.

Nobody speaks any more where a line falls silent (`silent`) or a host is killed together with its guard (`both`), and the guard may wait for a processor, too: the
firmware takes the power when it has not heard a word for 50 ms while the chip is powered.
"""
MATRIX = """
## Faulty chips

Each kind of fault of the virtual chip on each pin that can have it, one at a time, in {parts} part types ({names}), each in a fixture of its own: how the sweep ended. Allowed are a verdict with
a reason, or a refusal in words, within {simulated:g} simulated seconds and {cpu} of a processor. `sound` is no mistake by itself: 60 ohms in a bond wire, or a threshold half a volt off, may be within the data book, and some faults change nothing where they are (gain
of a CMOS output, a supply pin that is stuck). A bus driver whose direction hangs on its own output oscillates, which takes the simulator long.
"""


def _table(head: tuple[str, ...], rows: list[tuple[Any, ...]]) -> str:
    def line(cells: tuple[Any, ...]) -> str:
        return "| " + " | ".join(f"{cell:.4g}" if isinstance(cell, float) else str(cell) for cell in cells) + " |\n"
    return "\n" + line(head) + line(("---",) * len(head)) + "".join(map(line, rows))


def _extent(runs: dict[str, Lines]) -> str:
    rows = []
    for name, lines in runs.items():
        commits = sorted({one["commit"] for one in lines})
        rows.append((f"`python -m faults {name}`", f"{len(lines)} of {RUNS[name].all()} {RUNS[name].what}", ", ".join(commits),
                     sum(bool(RUNS[name].wrong(one)) for one in lines)))
    return _table(("run", "done", "commit", "wrong"), rows)


def _power(lines: Lines) -> str:
    rows = []
    for kind in [*stopped.KINDS, *dict.fromkeys(killed.KINDS)]:
        own = [one for one in lines if one["kind"] == kind]
        if own:
            late = sum(one["powered_ms"] > 100 or one["strong_ms"] > 60 for one in own)
            rows.append((kind, len(own), sum(one["powered"] for one in own), summary.worst(own, "powered_ms"), summary.worst(own, "strong_ms"),
                         late))
    return _table(("what", "cases", "of them powered", "powered, ms at most", "strong line, ms at most", "beyond 100 or 60 ms"), rows)


def _matrix(lines: Lines) -> str:
    ends = sorted({one["end"] for one in lines})
    by_kind = {kind: Counter(one["end"] for one in lines if one["chip"]["fault"][0]["kind"] == kind) for kind in matrix.FAULTS}
    rows: list[tuple[Any, ...]] = [(kind, found.total(), *(found[end] for end in ends)) for kind, found in by_kind.items() if found]
    slow = max(lines, key=lambda one: one.get("cpu_s", 0.0))
    what = ", ".join(f"{key} {value}" for key, value in slow["chip"]["fault"][0].items())
    return _table(("fault", "chips", *ends), rows) + (
        f"\nLongest: {summary.worst(lines, 'simulated_s'):.2f} s simulated; {slow.get('cpu_s', 0.0):.0f} s of a processor "
        f"({slow['chip']['part']}: {what}).\n")


def text() -> str:
    """The page."""
    runs = {name: lines for name in RUNS if (lines := kept(name))}
    out = HEAD + f"{datetime.now(UTC):%Y-%m-%d}.\n" + _extent(runs) + "\n## Figures\n" + _table(
        ("figure", "value", "unit"), [(name, f"{value:.6g}", unit) for name, (value, unit) in summary.figures(runs).items()])
    if lines := runs.get("link"):
        out += LINK + _table(("fault", "times"), summary.total(lines, "faults").most_common()) + _table(
            ("a pass ended", "times"), summary.total(lines, "told").most_common())
    if power := [*runs.get("stopped", []), *runs.get("killed", [])]:
        out += POWER + _power(power)
    if lines := runs.get("matrix"):
        out += MATRIX.format(parts=len(matrix.PARTS), names=", ".join(matrix.PARTS), simulated=matrix.SIMULATED_MOST_S, cpu=matrix.CPU_MOST_S) + _matrix(lines)
    return out


def write() -> None:
    """RESULT.md beside this file."""
    (Path(__file__).parent / "RESULT.md").write_text(text())
