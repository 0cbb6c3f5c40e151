"""What has been run: a line of JSON a chunk, and the page made from them.

A run of hours is one of many chunks; stopped, it goes on with what is missing.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import json
import os
import resource
import subprocess
from collections.abc import Iterable
from dataclasses import asdict, dataclass, field
from datetime import UTC, datetime
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
OUT = ROOT / "build/fuzz"
PAGE = ROOT / "tests/fuzz/RESULT.md"
AIMS = {"firmware": 10_000_000, "host": 1_000_000, "files": 1_000}        # inputs of all targets whose name begins so


@dataclass
class Chunk:
    """One call of a fuzzer.

    target: what was fuzzed; executions: inputs run, without those that were only read in at its start;
    edges: of the program reached until then, 0 where none are counted; crashes: names of files.
    seconds: by the wall's clock; processor: seconds that the processor worked on it, 0 where that was not kept.
    """

    target: str
    executions: int
    seconds: float
    edges: int = 0
    crashes: list[str] = field(default_factory=list)
    counts: dict[str, int] = field(default_factory=dict)
    date: str = field(default_factory=lambda: datetime.now(UTC).isoformat(timespec="seconds"))
    commit: str = field(default_factory=lambda: commit())
    processor: float = 0.0


def processor_s() -> float:
    """Seconds of the processor that all programs started from here and ended have taken."""
    spent = resource.getrusage(resource.RUSAGE_CHILDREN)
    return spent.ru_utime + spent.ru_stime


def commit() -> str:
    """The commit, with `+` if sources of firmware, host or tests differ from it."""
    ask = ["git", "-C", str(ROOT)]
    done = subprocess.run([*ask, "rev-parse", "--short", "HEAD"], capture_output=True, text=True, check=False)
    changed = subprocess.run([*ask, "diff", "--quiet", "HEAD", "--", "firmware", "host", "hardware"], check=False).returncode
    return (done.stdout.strip() or "none") + ("+" if changed else "")


def keep(chunk: Chunk, out: Path = OUT) -> None:
    """Append it, on a line of its own also behind one that a kill cut off."""
    out.mkdir(parents=True, exist_ok=True)
    with (out / "tally.jsonl").open("a+b") as file:
        if file.tell():
            file.seek(-1, os.SEEK_END)
            if file.read(1) != b"\n":
                file.write(b"\n")
        file.write(json.dumps(asdict(chunk)).encode() + b"\n")


def kept(out: Path = OUT) -> list[Chunk]:
    """All that were kept; a line cut off by a kill is left out."""
    found = []
    path = out / "tally.jsonl"
    for line in path.read_text().splitlines() if path.exists() else ():
        try:
            found.append(Chunk(**json.loads(line)))
        except ValueError:
            continue
    return found


def done(chunks: Iterable[Chunk], target: str) -> int:
    """Executions of a target."""
    return sum(chunk.executions for chunk in chunks if chunk.target == target)


def aside(kept: Path, name: str) -> None:
    """Move it into the folder of that name beside its own."""
    folder = kept.parent.with_name(name)
    folder.mkdir(exist_ok=True)
    kept.rename(folder / kept.name)


def left(chunks: Iterable[Chunk], out: Path = OUT) -> set[str]:
    """Names of crashes that are not mended: of firmware and host those whose inputs still lie in their folders, of spoilt files all."""
    lie = {path.name for path in (*out.glob("firmware/crash/*"), *out.glob("host/*/crash/*"))}
    return {name for c in chunks for name in c.crashes if name in lie or not c.target.startswith(("firmware", "host"))}


def page(chunks: list[Chunk], command: str, out: Path = OUT) -> str:
    """The page, in Markdown."""
    not_mended = left(chunks, out)
    lines = ["# What fuzzing found", "",
             f"Written by `{command}`, {max((c.date for c in chunks), default='never')[:10]}. Not part of `make test`, which runs",
             "the kept inputs and a small slice by the same code. A crash is whatever a sanitizer, an assertion of the harness or",
             "an exception that is not one of the program's own refusals stops; a hang counts as one. One that is",
             "mended is told in FOUND.md and runs with the kept inputs. Hours are by the wall's clock, of a machine shared with others.", "",
             "| target | executions | crashes | of them left | edges reached | a second of processor | hours | commits | from | to |",
             "|---|---|---|---|---|---|---|---|---|---|"]
    for target in dict.fromkeys(c.target for c in chunks):
        of = [c for c in chunks if c.target == target]
        commits, timed = list(dict.fromkeys(c.commit for c in of)), [c for c in of if c.processor]
        pace = f"{sum(c.executions for c in timed) / sum(c.processor for c in timed):,.0f}" if timed else "-"
        lines.append(f"| {target} | {sum(c.executions for c in of):,} | {len(names := {x for c in of for x in c.crashes})} | {len(names & not_mended)} "
                     f"| {max(c.edges for c in of) or '-'} | {pace} | {sum(c.seconds for c in of) / 3600:.2f} "
                     f"| {commits[0]}{'..' + commits[-1] if len(commits) > 1 else ''} | {of[0].date[:16]} | {of[-1].date[:16]} |")
    lines += ["", *(f"{name}: {sum(c.executions for c in chunks if c.target.startswith(name)):,} of the {aim:,} aimed at."
                    for name, aim in AIMS.items())]
    counts: dict[str, int] = {}
    for chunk in chunks:
        for name, value in chunk.counts.items():
            counts[name] = counts.get(name, 0) + value
    if counts:
        lines += ["", "| spoilt files | |", "|---|---|", *(f"| {name} | {value:,} |" for name, value in counts.items())]
    return "\n".join(lines) + "\n"
