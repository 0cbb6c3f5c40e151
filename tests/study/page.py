"""The page of a study: RESULT.md and its two plots, made from the cases.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from study import evaluate, plots
from study.figures import figures_of
from study.floors import LIMITS
from study.limits import COVERAGE

VERDICTS = ("sound", "about to go", "cannot tell", "not sound", "not finished", "not in the library", "trouble")
REASONS = Path(__file__).with_name("REASONS.md")       # written by hand: why a target is missed


def write(folder: Path, chips: Sequence[dict[str, Any]], fixtures: Sequence[dict[str, Any]]) -> None:
    """RESULT.md, coverage.svg, kinds.svg."""
    folder.mkdir(parents=True, exist_ok=True)
    by_stage = evaluate.coverage(fixtures)
    groups: dict[str, dict[str, tuple[float, float]]] = {}
    for stage, found in by_stage.items():
        for group, one in found.items():
            groups.setdefault(group, {})[stage] = (one.percent, one.error_of_percent)
    (folder / "coverage.svg").write_text(plots.dots(groups, 75, 100, COVERAGE))
    worth = evaluate.worth(chips)
    (folder / "kinds.svg").write_text(plots.bars({k: _ordered(v) for k, v in sorted(worth.kinds.items())}))
    (folder / "RESULT.md").write_text("\n".join(_text(chips, fixtures, worth, by_stage)) + "\n")


def _ordered(counts: Counter[str]) -> dict[str, int]:
    return {name: counts[name] for name in (*VERDICTS, "harmless") if counts[name]}


def _text(chips: Sequence[dict[str, Any]], fixtures: Sequence[dict[str, Any]], worth: evaluate.Worth,
          by_stage: dict[str, dict[str, evaluate.Coverage]]) -> Iterator[str]:
    yield from (
        "# What a study of virtual chips and fixtures shows", "",
        "Made by `python -m study --kept --page tests/study` from the lines of `make study`; the reasons at the end are",
        "written by hand (REASONS.md). All of it is simulation: nothing has been measured on copper.", "",
        f"{len(chips)} chips, each in a fixture of its own, judged without calibration; {len(fixtures)} further fixtures, each",
        f"with a sound chip of its own, {sum(len(c['stages']) > 1 for c in fixtures)} of them measured at every stage of "
        "calibration.", "", "## Figures", "",
        "| figure | value | unit | target | reached |", "|---|---|---|---|---|")
    for name, (value, unit) in figures_of(chips, fixtures).items():
        limit = LIMITS.get(name)
        yield f"| {name} | {value:.4g} | {unit} | " + (f"{limit.asked} | {limit.answer(value)} |" if limit else "| |")
    yield from ("", "Errors: what 95.45 % of all measured values keep against the truth, after the external resistor, at",
                "whatever current or voltage the value is given for. ICC: brought to 34 mA, from chips that draw at least 10 mA.",
                "", "## Does the truth lie within U?", "",
                "Target: 94 to 97.5 % (shaded); in each row the stages of calibration from above. The standard error counts the figures of one fixture as one draw. Mean and",
                "standard deviation of (value - truth) in standard uncertainties; 0 and 1 would be perfect.", "",
                "![coverage](coverage.svg)", "",
                "| stage | quantity | figures | fixtures | within U | mean | sd |", "|---|---|---|---|---|---|---|")
    for stage, groups in by_stage.items():
        for group, c in groups.items():
            yield (f"| {stage} | {group} | {c.measurements} | {c.fixtures} | {c.percent:.1f} +- {c.error_of_percent:.1f} % "
                   f"| {c.mean:+.2f} | {c.sd:.2f} |")
    columns = [v for v in VERDICTS if any(row[v] for row in worth.table.values())]
    yield from ("", "## Are the verdicts right?", "",
                "Truth: the virtual chip's own figures against the data book, by code that shares nothing with what judges.",
                'A "harmless fault" is there and breaks no limit: any verdict is right.', "",
                "| truth | " + " | ".join(columns) + " |", "|---" * (len(columns) + 1) + "|")
    yield from (f"| {truth} | " + " | ".join(str(worth.table[truth][c]) for c in columns) + " |"
                for truth in ("sound", "harmless fault", "bad") if truth in worth.table)
    yield from ("", f"Bad chips that pass the logic test without load: {len(worth.logic_only)} of {worth.bad}. Called sound by "
                f"us: {len(worth.false_accepts)} with a limit broken by more than U, {len(worth.within_u)} by less than U, "
                f"{len(worth.unmeasured)} in something of which no figure was taken at that pin.", "",
                "![by kind of fault](kinds.svg)")
    at = {case["index"]: case for case in chips}
    for title, indices in (("Called sound, broken by more than U", worth.false_accepts),
                           ("Called sound, no figure there", worth.unmeasured),
                           ("Sound, and rejected", worth.false_rejects), ("Fault not among the first two diagnoses",
                                                                          worth.undiagnosed)):
        if indices:
            yield from ("", f"### {title}", "")
            yield from (f"- {_case(at[index])}" for index in indices[:20])
    if REASONS.exists():
        yield from ("", REASONS.read_text().rstrip())


def _case(case: dict[str, Any]) -> str:
    """One case in a line."""
    what, host = case["description"], case.get("host")
    fault = ", ".join(f"{k} {v}" for k, v in what["fault"][0].items()) if what.get("fault") else evaluate.kind_of(what)
    broken = "; ".join(f"{v['pin']} {v['quantity']}" + (f" {v['value']:.3g} for {v['limit']:.3g}" if v["limit"] and v["value"]
                       else "") for v in case["truth"]["violations"][:2])
    said = case.get("trouble", "") if not host else f"{host['verdict']}: " + "; ".join(
        str(r[3]) for r in host["reasons"][:1]) + ("; " + ", ".join(d[0] for d in host["diagnoses"][:2]) if
                                                   host["diagnoses"] else "")
    return f"{case['index']} {what['part']} as {case['marking']}, {fault}; true: {broken or 'sound'}; said: {said}"
