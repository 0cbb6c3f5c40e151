"""Which family the silicon is of.

Outside references: quad NAND gates of transistor-level models in ngspice (textbook circuits; see paper.SPICE), and
data-book typical values as they stand in the families' own tables, drawn anew with their spread.

SPDX-License-Identifier: MIT
"""

import random
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest

from host.judge import paper
from sagbench.judge.fingerprint import LEFT, families_for, guess, mismatch, unlike
from sagbench.judge.traits import traits
from sagbench import parts
from sagbench.parts import load_part
from sagbench.parts.ratings import ORDER, table
from sagbench.record import Contact, Finding, Outcome, PinContact, Quantity

FAMILY = {"7400": "74", "74LS00": "LS", "74S00": "S", "74HC00": "HC"}


@pytest.mark.parametrize("silicon", paper.SPICE)
@pytest.mark.parametrize("marking", paper.SPICE)
def test_spice_gates_are_told_whatever_is_printed_on_them(silicon, marking):
    part = load_part(marking)
    record = paper.chip(part, **paper.SPICE[silicon])
    guesses = guess(part, record)
    assert guesses[0].family == FAMILY[silicon] and sum(g.probability for g in guesses) == pytest.approx(1)
    wrong = mismatch(part, record, guesses)
    assert (wrong is not None) is (silicon != marking)


def test_a_74ls00_marked_7400_is_told_with_its_evidence_and_before_any_weak_output():
    part = load_part("7400")
    record = paper.chip(part, **paper.SPICE["74LS00"])
    weak = Finding("VOL", Outcome.BEYOND, "pin 3 (1Y) sinks 15 mA only at 0.45 V", 3, weight=77)
    finding = mismatch(part, replace(record, reasons=(weak,)), guess(part, record))
    assert finding.outcome is Outcome.BEYOND and finding.weight > weak.weight
    assert "its silicon is that of 74LS" in finding.sentence and "not of plain 74 as marked" in finding.sentence
    assert "an input delivers 0.21 mA when low where plain 74 has 1 mA and 74LS 0.21 mA" in finding.sentence
    assert mismatch(part, record, guess(part, record)).outcome is Outcome.ODD, "no limit is broken"


def test_without_thresholds_hc_and_hct_are_not_told_apart_and_that_is_said():
    part = load_part("74HC00")
    figures = {**paper.SPICE["74HC00"], "vt": None}
    guesses = guess(part, paper.chip(part, **figures))
    assert guesses[0].family == "HC" and guesses[1].family == "HCT" and guesses[1].probability > LEFT
    assert any("not ruled out" in line and "74HCT" in line for line in guesses[0].evidence)
    told = guess(part, paper.chip(part, **paper.SPICE["74HC00"]))
    assert told[1].probability < LEFT


def test_evidence_says_what_speaks_for_and_what_against():
    part = load_part("74LS00")
    guesses = guess(part, paper.chip(part, **paper.SPICE["74LS00"]))
    assert any(line.startswith("for it: an input delivers 0.21 mA") for line in guesses[0].evidence)
    plain = next(g for g in guesses if g.family == "74")
    assert any(line.startswith("against it: a low output under light load is at 0.32 V") for line in plain.evidence)


def test_one_bad_gate_does_not_make_another_family_of_a_chip():
    part = load_part("7400")
    record = paper.chip(part, **paper.SPICE["7400"])
    pins = list(record.pins)
    pins[2] = replace(pins[2], loads=paper.sinking(("weak", 0.5, 0.9), ("medium", 5, 2.9)))
    pins[0] = replace(pins[0], measured=(replace(pins[0].measured[0], value=Quantity(-9e-3, 1e-5, "A")), *pins[0].measured[1:]))
    sick = replace(record, pins=tuple(pins))
    assert traits(part, sick)["iil_ma"].value == traits(part, record)["iil_ma"].value
    assert guess(part, sick)[0].family == "74" and mismatch(part, sick, guess(part, sick)) is None


def test_a_whole_chip_unlike_its_own_family_is_out_of_character():
    """A resistance of 15 ohm in the ground bond lifts all low levels of an LS00 alike, and no other family is like that."""
    part = load_part("74LS00")
    assert unlike(part, paper.chip(part, **paper.SPICE["74LS00"])) == []
    lifted = {**paper.SPICE["74LS00"], "low": (("weak", 0.56, 0.365), ("medium", 7.6, 0.80), ("strong", 14.4, 1.1))}
    record = paper.chip(part, **lifted)
    found = unlike(part, record)
    assert mismatch(part, record, guess(part, record)) is None
    assert [f.outcome for f in found] == [Outcome.ODD] and "resistance of a low output is 62 ohm" in found[0].sentence


def test_pins_without_contact_tell_nothing_and_too_little_is_no_guess():
    part = load_part("7400")
    record = paper.chip(part, **paper.SPICE["7400"])
    nothing = replace(record, contacts=tuple(PinContact(p.pin, Contact.OPEN) for p in record.pins), supply=())
    assert traits(part, nothing) == {} and guess(part, nothing) == ()


@pytest.mark.parametrize("family", [f for f in ORDER if f in ("74", "H", "S", "LS", "ALS", "AS", "F", "HC", "HCT", "AC")])
def test_specimens_drawn_from_the_tables_are_told_or_their_family_is_not_ruled_out(family):
    """Fifty specimens drawn with the tables' own spread: the family is first, or among those not ruled out, in 47 or more."""
    usual, draw = table(family)["typical"], random.Random(f"{family} 1")
    part = load_part(f"74{'' if family == '74' else family}00")
    right = 0
    for _ in range(50):
        t = {k: draw.gauss(e["value"], e["sd"]) for k, e in usual.items()}
        light, slope = max(t["vol_light_v"], 0.0), max(t["rol_ohm"], 0.5)
        icc = {s.name: s.typical * draw.lognormvariate(0, 0.2) for s in part.supply_states if s.typical}
        record = paper.chip(
            part, iil=min(t["iil_ma"], 0.0) * 1e-3, low=(("weak", 0.5, light), ("medium", 8.0, light + slope * 7.5e-3)),
            high=(("weak", 0.4, paper.SUPPLY_V - max(t["voh_drop_v"], 0)),), icc=icc, vt=t["vt_v"],
            ios=t["ios_ma"] * 1e-3 if "ios_ma" in t else None)
        guesses = guess(part, record)
        right += family in [g.family for g in guesses if g.probability >= LEFT]
        wrong = mismatch(part, record, guesses)
        assert wrong is None, wrong
    assert right >= 47


def test_rare_families_come_into_question_only_where_they_are_marked():
    assert "DTL" not in families_for("74") and "DTL" in families_for("DTL") and "93L" not in families_for("LS")


@pytest.mark.parametrize("family", ORDER)
def test_each_family_has_typical_figures_with_a_spread_and_a_source(family):
    from sagbench.parts.ratings import _LIKE
    usual = table(_LIKE.get(family, family))["typical"]
    assert {"iil_ma", "vt_v", "vol_light_v", "rol_ohm", "voh_drop_v"} <= set(usual)
    assert all(e["sd"] > 0 and e["source"] for e in usual.values())
    sources = tomllib.loads((Path(parts.__file__).parent / "sources.toml").read_text())["source"]
    further = table(_LIKE.get(family, family)).get("further", {})
    assert all(e["source"] in {*sources, "memory"} for e in (*usual.values(), *further.values()))
    limits = table(family)
    assert limits["input"]["iil_ma"]["min"] <= usual["iil_ma"]["value"] <= 0, "typical is within the limit"
    assert limits["input"]["vil"]["max"] < usual["vt_v"]["value"] < limits["input"]["vih"]["min"]
