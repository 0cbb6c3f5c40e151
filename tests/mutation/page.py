"""The page tests/mutation/RESULT.md, with the reasons that people gave in reasons.toml.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import datetime
import subprocess
import tomllib
from collections import Counter
from collections.abc import Iterable
from pathlib import Path

from mutation.mutants import Mutant
from mutation.rooms import ROOT
from mutation.run import CPU_S, ENOUGH, KILLED, NOT_RUN, SLOW, SURVIVED, TIMEOUT, Outcome

GOAL = 85.0
HERE = Path(__file__).resolve().parent
RESULT, REASONS = HERE / "RESULT.md", HERE / "reasons.toml"
NOTICED = (KILLED, TIMEOUT)
UNEXPLAINED = "no reason written yet"


def percent(outcomes: Iterable[Outcome]) -> float:
    """Noticed, of those tried: a test failed, or the program no longer came to an end."""
    all_of_them = list(outcomes)
    return 100 * sum(one.outcome in NOTICED for one in all_of_them) / len(all_of_them)


def reasons() -> dict[str, str]:
    """Mutant -> why it stands, by people.  A kind of reason is written once and names its mutants."""
    rows = tomllib.loads(REASONS.read_text())["reason"] if REASONS.exists() else []
    return {mutant: row["why"] for row in rows for mutant in row["mutants"]}


def _short(text: str, most: int = 90) -> str:
    """For a table: one line, no bars."""
    return (text if len(text) <= most else text[:most - 3] + "...").replace("|", "\\|").replace("`", "'")


def _change(mutant: Mutant) -> str:
    """What was and what is, without what both begin and end with."""
    was, now = mutant.was, mutant.now
    if len(was) > 60:
        same = next((n for n, (a, b) in enumerate(zip(was, now, strict=False)) if a != b), min(len(was), len(now)))
        begin = max(0, same - 30)
        was, now = ("..." * (begin > 0) + text[begin:] for text in (was, now))
    return f"`{_short(was)}` -> `{_short(now)}`"


def _table(done: dict[Mutant, Outcome]) -> list[str]:
    rows = ["| room | tried | a test fails | no end | survived | not executed | noticed |", "|---|---|---|---|---|---|---|"]
    names = list(dict.fromkeys(mutant.room for mutant in done))
    for name in [*names, "all"]:
        those = [one for mutant, one in done.items() if name in (mutant.room, "all")]
        seen = Counter(one.outcome for one in those)
        rows.append(f"| {name} | {len(those)} | " + " | ".join(str(seen[kind]) for kind in (KILLED, TIMEOUT, SURVIVED, NOT_RUN))
                    + f" | {percent(those):.1f} % |")
    return rows


def write(done: dict[Mutant, Outcome], words: list[str]) -> int:
    """Write the page; how many survivors have no reason yet."""
    why, missing = reasons(), 0
    commit = subprocess.run(["git", "rev-parse", "--short", "HEAD"], cwd=ROOT, capture_output=True, text=True, check=False).stdout.strip()
    lines = [
        "# Small changes to the host, and whether the tests notice", "",
        f"`python -m mutation {' '.join(words)}`, on {datetime.date.today().isoformat()}, at {commit}. "
        "Written by the program; reasons are people's (reasons.toml).", "",
        *_table(done), "",
        "Changes are those of mutmut's operators, inside functions, drawn by the seed, rooms by their lines, each room 60 at least (a sample of 240 or more, run to its end). "
        "A string is changed once; sentences (strings with spaces) are not, for people read them. A change that leaves the "
        "compiled function as it was is not counted; another takes its place. "
        f"Each is tried against the tests that execute its statement, those of its own room first, of at most {SLOW:g} s of CPU each and "
        f"{ENOUGH:g} s together. \"No end\": cut off after {CPU_S:g} s of CPU more than its tests took while they were watched (some twice their time); it counts as noticed.", "",
        "Left out: `wire/guard.py` and `wire/serial.py` (the operating system's side; tests/faults kills hosts and pulls cables), "
        "`vectors/derive.py` and `vectors/report.py` (tools of developers). The library's tests (`make library`) and those "
        "against the clock take no part: on a busy machine one of the latter fails by itself.", "",
        "Tests were written for changes of this sample that none noticed, so the share is that of the sample;"
        " of a sample for which none were written: FRESH.md.", "",
        "## Those that no test notices", "", "| where | change | why it stands |", "|---|---|---|"]
    for mutant, outcome in sorted(done.items(), key=lambda pair: (pair[0].file, pair[0].line)):
        if outcome.outcome not in NOTICED:
            reason = why.get(mutant.id, UNEXPLAINED)
            missing += reason == UNEXPLAINED
            note = "not executed: " if outcome.outcome == NOT_RUN else ""
            lines.append(f"| {mutant.file.removeprefix('host/sagbench/')}:{mutant.line} {mutant.function} | {_change(mutant)} "
                         f"| {note}{_short(reason, 300)} |")
    RESULT.write_text("\n".join(lines) + "\n")
    return missing
