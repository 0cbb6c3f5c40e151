"""The study's own arithmetic, on cases of which the answer is plain.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import gc
import json
import random
from pathlib import Path
from typing import Any

import pytest

from study import evaluate, lines, pace, page
from study.drawer import marking_of
from study.limits import Limit, judge
from study.supply import Supply
from virtual_fixture.chips.population import population


def fixture_case(index: int, rows: list[tuple[str, int, float, float, float]]) -> dict[str, Any]:
    return {"index": index, "fixture": index, "part": "74LS00", "stages": {"external": rows}}


def chip_case(index: int, verdict: str, violations: list[dict[str, Any]], findings: list[tuple[Any, ...]] = (),
              fault: str = "", diagnoses: list[tuple[Any, ...]] = (), part: str = "74LS00") -> dict[str, Any]:
    what: dict[str, Any] = {"part": part} | ({"fault": [{"kind": fault}]} if fault else {})
    return {"index": index, "description": what, "marking": part,
            "truth": {"sound": not violations, "violations": violations},
            "host": {"verdict": verdict, "findings": findings, "diagnoses": diagnoses, "families": [("LS", 0.9)],
                     "logic_passed": True, "reasons": []}}


def test_a_normal_error_is_covered_by_two_standard_uncertainties() -> None:
    """95.45 % of a normal distribution lie within two sigma (any table of it)."""
    rng = random.Random(1)
    cases = [fixture_case(k, [("VOL", 1, 0.3 + rng.gauss(0, 0.001), 0.002, 0.3)] * 1) for k in range(20000)]
    found = evaluate.coverage(cases)["external"]["VOL"]
    assert found.percent == pytest.approx(95.45, abs=3 * found.error_of_percent)
    assert found.sd == pytest.approx(1, abs=0.02)
    assert evaluate.errors(cases)["vol_error_mv_k2"] == pytest.approx(2, abs=0.05)


def test_figures_of_one_fixture_count_as_one_draw() -> None:
    """Ten fixtures, one of them wholly wrong: the share is as unsure as ten draws make it, not as a thousand."""
    cases = [fixture_case(k, [("VOL", 1, 0.3 + 0.01 * (k == 0), 0.002, 0.3)] * 100) for k in range(10)]
    found = evaluate.coverage(cases)["external"]["all"]
    assert (found.measurements, found.fixtures, found.percent) == (1000, 10, 90)
    assert found.error_of_percent == pytest.approx(9.49, abs=0.01)        # 100 sqrt(0.9 * 0.1 / 10)


@pytest.mark.parametrize(("u", "measured", "group"), [
    (0.01, True, "false_accepts"), (0.2, True, "within_u"), (0.01, False, "unmeasured")])
def test_why_a_bad_chip_was_called_sound(u: float, measured: bool, group: str) -> None:
    broken = {"pin": "1Y", "number": 3, "quantity": "VOL", "value": 0.6, "limit": 0.5}
    findings = [("VOL", 3, "within", 0.49, u, 0.5)] if measured else [("VOL", 6, "within", 0.3, u, 0.5)]
    found = evaluate.worth([chip_case(7, "sound", [broken], findings, "beta")])
    assert {name: getattr(found, name) for name in ("false_accepts", "within_u", "unmeasured")} == {
        "false_accepts": [], "within_u": [], "unmeasured": []} | {group: [7]}
    assert found.logic_only == [7]


def test_wrong_logic_called_sound_is_always_a_false_accept() -> None:
    broken = {"pin": "1Y", "number": 3, "quantity": "logic", "value": 0.6, "limit": None}
    assert evaluate.worth([chip_case(1, "sound", [broken], fault="stuck")]).false_accepts == [1]


def test_sound_and_rejected_and_a_harmless_fault() -> None:
    found = evaluate.worth([chip_case(1, "not sound", []), chip_case(2, "not sound", [], fault="leak"),
                            chip_case(3, "sound", [])])
    assert found.false_rejects == [1]
    assert found.figures()["false_rejects_percent"] == (50, "%")


def test_a_fault_is_named_or_not() -> None:
    broken = [{"pin": "1Y", "number": 3, "quantity": "VOL", "value": 0.6, "limit": 0.5}]
    told = [("dead output stage", 3, 0.5), ("sink transistor has lost gain", 3, 0.4)]
    found = evaluate.worth([chip_case(1, "not sound", broken, fault="beta", diagnoses=told),
                            chip_case(2, "not sound", broken, fault="beta", diagnoses=told[:1])])
    assert (found.diagnosed, found.undiagnosed) == (1, [2])


@pytest.mark.parametrize(("name", "number", "family"), [
    ("74LS00", "00", "LS"), ("7400", "00", "TTL"), ("4011", "4011", "4000"), ("74HCT164", "164", "HCT")])
def test_names_are_taken_apart(name: str, number: str, family: str) -> None:
    assert (evaluate.function(name), evaluate.family(name)) == (number, family)


def test_the_supply_is_that_of_the_stage_and_of_the_least_loaded_ground() -> None:
    seen = Supply(switch_ohm=0.7)
    seen.stage("supply current", 0, 2)
    seen.samples += [(4.95, 0.010), (4.90, 0.030)]
    seen.stage("load lines", 1, 2)
    seen.samples += [(4.93 - sag, 0.010 + 1e-4 * n) for n, sag in enumerate((0.02, 0.0, 0.01))]
    assert seen.nearest("supply current", 0.028) == (0.030, 4.90)
    assert seen.at("supply current", 0.012) == 4.95
    assert seen.at("load lines", 0.0102) == pytest.approx(4.93)
    assert seen.at("load lines", 0.0102, 0.004) == pytest.approx(4.93 - 1.7 * 0.004)
    assert seen.at("logic", 0.030) == pytest.approx(4.90)  # not watched: of all


def test_a_floor_and_a_target() -> None:
    limits = {"a": Limit(94, 97.5, 80, 100), "b": Limit(0, 0, 0, 2)}
    assert judge({"a": 95, "b": 0}, limits) == ([], True)
    sentences, good = judge({"a": 85, "b": 3}, limits)
    assert len(sentences) == 2 and not good
    assert judge({"a": 85, "b": 1}, limits)[1]
    assert not judge({"b": 0}, limits)[1]


def doubled(job: tuple[int, int]) -> dict[str, int]:
    return {"index": job[0], "twice": 2 * job[1]}


def test_work_goes_on_where_it_was(tmp_path: Path) -> None:
    """A line that was cut short is done again, the others are not."""
    file = tmp_path / "lines.jsonl"
    file.write_text(json.dumps({"sources": lines.sources()}) + "\n" + json.dumps({"index": 0, "twice": "kept"}) + '\n{"index": 1, "tw')
    found = lines.work(file, doubled, ((k, k) for k in range(3)), 3, 1, "numbers")
    assert [one["twice"] for one in found] == ["kept", 2, 4]
    assert [one["twice"] for one in lines.read(file).values()] == ["kept", 2, 4]


def test_work_of_other_sources_is_put_aside(tmp_path: Path) -> None:
    file = tmp_path / "lines.jsonl"
    old = json.dumps({"sources": "00000000"}) + "\n" + json.dumps({"index": 0, "twice": "old"}) + "\n"
    file.write_text(old)
    assert [one["twice"] for one in lines.work(file, doubled, ((k, k) for k in range(2)), 2, 1, "numbers")] == [0, 2]
    assert (tmp_path / "lines.jsonl.old").read_text() == old


def test_the_page_names_every_wrong_case_and_every_missed_target(tmp_path: Path) -> None:
    broken = [{"pin": "1Y", "number": 3, "quantity": "VOL", "value": 0.6, "limit": 0.5}]
    chips = [chip_case(41, "sound", broken, [("VOL", 3, "within", 0.4, 0.01, 0.5)], "beta"), chip_case(42, "not sound", [])]
    page.write(tmp_path, chips, [fixture_case(1, [("VOL", 1, 0.3, 0.002, 0.3)])])
    text = (tmp_path / "RESULT.md").read_text()
    assert "- 41 74LS00" in text and "- 42 74LS00" in text
    assert "| false_accepts | 1 | chips | 0 | no, and beyond its floor |" in text
    assert "| study_chips | 2 | chips | at least 2000 | no |" in text
    assert "| vol_error_mv_k2 | 0 | mV | at most 5 | yes |" in text
    assert (tmp_path / "coverage.svg").read_text().startswith("<svg")


def test_currents_of_cmos_chips_are_a_quantity_of_their_own() -> None:
    rows = [["ICC", 0, 1e-6, 0.9e-6, 1.1e-6], ["VOL", 1, 0.1, 0.01, 0.1]]
    groups = {part: set(evaluate.coverage([{"fixture": 1, "part": part, "stages": {"self": rows}}])["self"])
              for part in ("74HC00", "4011", "74LS00", "74ALS00")}
    assert groups["74HC00"] == groups["4011"] == {"CMOS current", "VOL", "all"}
    assert groups["74LS00"] == groups["74ALS00"] == {"ICC", "VOL", "all"}


def test_a_pool_is_the_drawer_or_specimens_of_one_kind() -> None:
    """The drawer's chips are the study's own; of one kind each is another specimen."""
    drawer, gates = pace.jobs_of(pace.DRAWER, 3), pace.jobs_of("7400", 3)
    assert [description for _, description, _ in drawer] == [d for d, _ in population(pace.SEED, 3, bad_share=0.0)]
    assert {marking_of(description) for _, description, _ in gates} == {"7400"} and len({seed for _, _, seed in gates}) == 3


def test_the_pace_counts_whole_sweeps_and_leaves_the_collector_as_it_was() -> None:
    before = gc.get_threshold()
    found = pace.paced(2, workers=1, pool="7400")
    assert found.count == 2 and 0 < found.cpu_s <= 1.1 * 60 / found.per_min
    assert gc.get_threshold() == before and gc.get_freeze_count() == 0
