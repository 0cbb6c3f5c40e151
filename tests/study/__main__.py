"""`make study`: sweep a population of virtual chips on as many virtual fixtures, hold what is said against the truth.

    python -m study --chips 2000 --fixtures 400       # build/study: lines of JSON, report.json, the page with its plots

A smaller study has the first of the same chips and fixtures. Stopped and started again it goes on where it was.
`--kept --page tests/study` writes RESULT.md there anew from what is kept.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import argparse
import json
import sys
from dataclasses import asdict
from pathlib import Path

from study import coverage, evaluate, lines, page, run
from study.figures import figures_of
from study.floors import LIMITS
from study.limits import judge


def main() -> int:
    """0 if every floor holds."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--chips", type=int, default=2000)
    parser.add_argument("--fixtures", type=int, default=400)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--out", type=Path, default=Path("build/study"))
    parser.add_argument("--kept", action="store_true", help="only what has been done already, no new sweeps")
    parser.add_argument("--more", type=Path, help="with --kept: further fixtures, of another drawer (study.coverage --drawer)")
    parser.add_argument("--page", type=Path, help="write the page and its plots into this folder")
    asked = parser.parse_args()
    chips_file, fixtures_file = asked.out / "drawer.jsonl", asked.out / "coverage.jsonl"
    if asked.kept:
        chips, fixtures = ([one for _, one in sorted(lines.read(file).items())] for file in (chips_file, fixtures_file))
        fixtures += lines.read(asked.more).values() if asked.more else ()
    else:
        chips = run.run(run.DRAWER, asked.chips, chips_file, asked.workers)
        fixtures = coverage.run(asked.fixtures, "meter", fixtures_file, asked.workers)
    figures = figures_of(chips, fixtures)
    for name, (value, unit) in figures.items():
        print(f"{name} {value:.6g} {unit}")
    sentences, good = judge({name: value for name, (value, _) in figures.items()}, LIMITS)
    for sentence in sentences:
        print(f"study: {sentence}", file=sys.stderr)
    asked.out.mkdir(parents=True, exist_ok=True)
    (asked.out / "report.json").write_text(json.dumps({
        "figures": figures, "missed": sentences, "worth": evaluate.worth(chips).plain(),
        "coverage": {stage: {name: asdict(one) for name, one in groups.items()}
                     for stage, groups in evaluate.coverage(fixtures).items()}}, indent=1))
    page.write(asked.page or asked.out, chips, fixtures)
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
