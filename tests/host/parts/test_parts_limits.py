"""Limits of families and parts against figures of the data books, written down apart.

Each row names its source: a key of host/sagbench/parts/sources.toml, where the document is named, or "memory".

SPDX-License-Identifier: MIT
"""
import tomllib

import pytest

from sagbench.parts import Part, Role, catalogue, load_file, load_part
from sagbench.parts.equations import Const
from sagbench.parts.lookup import LIBRARY
from sagbench.parts.names import OWN_NUMBER, type_name
from sagbench.parts.ratings import ORDER

MILLI, MICRO = 1e-3, 1e-6

# part; VIH V, VIL V; IIH uA, IIL mA; VOL V at IOL mA; VOH V at IOH mA (negative volts: below the supply); source
FAMILIES = [
    ("7400", 2.0, 0.8, 40, -1.6, 0.4, 16, 2.4, -0.4, "DM7400"),
    ("5400", 2.0, 0.8, 40, -1.6, 0.4, 16, 2.4, -0.4, "DM7400"),
    ("74L00", 2.0, 0.7, 10, -0.18, 0.4, 3.6, 2.4, -0.2, "memory"),
    ("54L00", 2.0, 0.7, 10, -0.18, 0.3, 2.0, 2.4, -0.1, "memory"),
    ("74H00", 2.0, 0.8, 50, -2.0, 0.4, 20, 2.4, -0.5, "ITT74H30"),
    ("74S00", 2.0, 0.8, 50, -2.0, 0.5, 20, 2.7, -1.0, "DM74S02; memory for IIH, IIL, VOL"),
    ("54S00", 2.0, 0.8, 50, -2.0, 0.5, 20, 2.5, -1.0, "memory"),
    ("74LS00", 2.0, 0.8, 20, -0.4, 0.5, 8, 2.7, -0.4, "DM74LS00, SDLS025B, MOT_LS00"),
    ("54LS00", 2.0, 0.7, 20, -0.4, 0.4, 4, 2.5, -0.4, "SDLS025B, MOT_LS00"),
    ("74AS00", 2.0, 0.8, 20, -0.5, 0.5, 20, -2.0, -2.0, "SDAS187A_AS; SDAS272A for IIL, IIH"),
    ("74ALS00", 2.0, 0.8, 20, -0.1, 0.5, 8, -2.0, -0.4, "SDAS187A_ALS, PH_ALS00"),
    ("54ALS00", 2.0, 0.8, 20, -0.1, 0.4, 4, -2.0, -0.4, "SDAS187A_ALS"),
    ("74F00", 2.0, 0.8, 20, -0.6, 0.5, 20, 2.7, -1.0, "MOT_F10, NS_F"),
    ("74HC00", 3.15, 1.35, 0.1, -0.0001, 0.26, 4, -0.52, -4, "HCT00 for the outputs: 3.98 V at a 4.5 V supply; memory"),
    ("74HCT00", 2.0, 0.8, 0.1, -0.0001, 0.26, 4, -0.52, -4, "HCT00"),
    ("74AC00", 3.15, 1.35, 0.1, -0.0001, 0.36, 24, -0.64, -24, "AC00: 3.86 V at a 4.5 V supply"),
    ("74ACT00", 2.0, 0.8, 0.1, -0.0001, 0.36, 24, -0.64, -24, "AC00 for the outputs; memory"),
    ("CD4011BE", 3.5, 1.5, 0.3, -0.0003, 0.4, 0.44, -0.4, -0.44, "CD4011BC: 4.6 V at a 5 V supply"),
]


@pytest.mark.parametrize("row", FAMILIES, ids=lambda r: r[0])
def test_family(row: tuple) -> None:
    name, vih, vil, iih, iil, vol, iol, voh, ioh, _ = row
    part = load_part(name)
    has = part.limits[part.of_role(Role.OUTPUT)[0].number]
    assert (has.vih.value, has.vih.kind) == (vih, "min") and (has.vil.value, has.vil.kind) == (vil, "max")
    assert has.iih.value == pytest.approx(iih * MICRO) and has.iih.kind == "max"
    assert has.iil.value == pytest.approx(iil * MILLI) and has.iil.kind == "min"
    low, high = has.vol[-1], has.voh[-1]               # at the heaviest current
    assert (low.limit.value, low.amperes) == (vol, pytest.approx(iol * MILLI)) and low.limit.kind == "max"
    assert (high.limit.value, high.amperes) == (pytest.approx(voh), pytest.approx(ioh * MILLI)) and high.limit.kind == "min"
    assert high.relative_to_supply is (voh < 0)


# part; state -> (typical or None, maximum) in mA; source
SUPPLY = [
    ("7400", {"outputs high": (4, 8), "outputs low": (12, 22)}, "DM7400"),
    ("74LS00", {"outputs high": (0.8, 1.6), "outputs low": (2.4, 4.4)}, "DM74LS00, SDLS025B"),
    ("74LS08", {"outputs high": (None, 4.8), "outputs low": (None, 8.8)}, "NTE74LS08"),
    ("74LS20", {"outputs high": (None, 0.8), "outputs low": (None, 2.2)}, "MOT_LS20"),
    ("7430", {"outputs high": (1, 2), "outputs low": (3, 6)}, "ITT7430"),
    ("74H30", {"outputs high": (2.5, 4.2), "outputs low": (6.5, 10)}, "ITT74H30"),
    ("74F10", {"outputs high": (1.4, 2.1), "outputs low": (5.1, 7.7)}, "MOT_F10"),
    ("74F109", {"quiescent": (11.7, 17)}, "MOT_F109"),
    ("74LS74", {"quiescent": (4, 8)}, "LS74A"),
    ("74LS112", {"quiescent": (4, 6)}, "LS112A"),
    ("74LS138", {"quiescent": (6.3, 10)}, "DM74LS138"),
    ("74ALS245", {"outputs high": (30, 45), "outputs low": (36, 55), "outputs off": (38, 58)}, "SDAS272A"),
    ("74AS245", {"outputs high": (62, 97), "outputs low": (95, 143), "outputs off": (79, 123)}, "SDAS272A"),
    ("74F245", {"outputs high": (None, 90), "outputs low": (None, 120), "outputs off": (None, 110)}, "MOT_F245"),
    ("74LS04", {"outputs high": (1.2, 2.4), "outputs low": (3.6, 6.6)}, "memory"),
    ("74S04", {"outputs high": (15, 24), "outputs low": (30, 54)}, "memory"),
    ("74S64", {"outputs high": (7, 12.5), "outputs low": (8.5, 16)}, "memory"),
    ("7425", {"outputs high": (8, 16), "outputs low": (10, 19)}, "memory"),
    ("74LS244", {"outputs high": (17, 27), "outputs low": (27, 46), "outputs off": (32, 54)}, "memory"),
    ("74LS374", {"outputs off": (27, 40)}, "memory"),
    ("74HCT00", {"quiescent": (None, 0.001)}, "HCT00"),
]


@pytest.mark.parametrize("row", SUPPLY, ids=lambda r: r[0])
def test_supply_current(row: tuple) -> None:
    name, states, _ = row
    has = {s.name: s for s in load_part(name).supply_states}
    assert set(has) == set(states)
    for state, (typical, maximum) in states.items():
        assert has[state].limit.value == pytest.approx(maximum * MILLI)
        assert has[state].typical == (None if typical is None else pytest.approx(typical * MILLI))


# part, pin name, IIL mA, IIH uA, source
PINS = [
    ("74LS112", "1J", -0.4, 20, "LS112A"), ("74LS112", "1CLR", -0.8, 60, "LS112A"),
    ("74LS112", "2PRE", -0.8, 60, "LS112A"), ("74LS112", "2CLK", -0.8, 80, "LS112A"),
    ("74LS74", "1D", -0.4, 20, "LS74A"), ("74LS74", "1CLR", -0.8, 40, "LS74A"), ("74LS74", "2PRE", -0.8, 40, "LS74A"),
    ("74F109", "1CLR", -1.8, 20, "MOT_F109"), ("74F109", "2J", -0.6, 20, "MOT_F109"),
    ("74LS181", "A2", -1.2, 60, "MOT_LS181"), ("74LS181", "S3", -1.6, 80, "MOT_LS181"),
    ("74LS181", "M", -0.4, 20, "MOT_LS181"), ("74LS181", "CN", -2.0, 100, "MOT_LS181"),
    ("74LS244", "1A1", -0.2, 20, "DM74LS244"), ("74AS245", "B3", -0.75, 70, "SDAS272A"),
    ("74AS245", "DIR", -0.5, 20, "SDAS272A"),
    ("7474", "1CLR", -3.2, 120, "memory"), ("7425", "2G", -6.4, 160, "memory"), ("74LS86", "3B", -0.8, 40, "memory"),
    ("74ALS161", "ENT", -0.2, 20, "memory"),
    # A resistor inside holds these up; who pulls them low takes its current (BI/RBO: low-level input current, memory).
    ("7446", "BIRBO", -4.0, 40, "memory"), ("7447", "BIRBO", -4.0, 40, "memory"), ("7448", "BIRBO", -4.0, 40, "memory"),
    ("74246", "BIRBO", -4.0, 40, "memory"), ("74247", "BIRBO", -4.0, 40, "memory"), ("74248", "BIRBO", -4.0, 40, "memory"),
    ("74249", "BIRBO", -4.0, 40, "memory"), ("74L47", "BIRBO", -2.0, 10, "memory"), ("74LS47", "BIRBO", -1.2, 20, "memory"),
    ("74LS347", "BIRBO", -1.2, 20, "memory"), ("74LS447", "BIRBO", -1.2, 20, "memory"),
]


@pytest.mark.parametrize("row", PINS, ids=lambda r: f"{r[0]}-{r[1]}")
def test_input_loads_of_single_pins(row: tuple) -> None:
    name, pin_name, iil, iih, _ = row
    part = load_part(name)
    pin = next(p for p in part.pins if p.name == pin_name)
    has = part.limits[pin.number]
    assert has.iil.value * pin.low_unit_loads == pytest.approx(iil * MILLI)
    assert has.iih.value * pin.high_unit_loads == pytest.approx(iih * MICRO)


# part, pin, VOL (mA, V) ..., VOH (mA, V) ..., source
DRIVERS = [
    ("74LS244", 18, ((12, 0.4), (24, 0.5)), ((-3, 2.4), (-15, 2.0)), "DM74LS244"),
    ("54LS244", 18, ((12, 0.4),), ((-3, 2.4), (-12, 2.0)), "memory"),
    ("74ALS245", 18, ((12, 0.4), (24, 0.5)), ((-0.4, -2.0), (-3, 2.4), (-15, 2.0)), "SDAS272A"),
    ("74AS245", 2, ((64, 0.55),), ((-2, -2.0), (-3, 2.4), (-15, 2.0)), "SDAS272A"),
    ("74F245", 2, ((24, 0.5),), ((-3, 2.4),), "MOT_F245, A side"),
    ("74F245", 18, ((64, 0.55),), ((-3, 2.4), (-15, 2.0)), "MOT_F245, B side"),
    ("74HC245", 18, ((0.02, 0.1), (6, 0.26)), ((-0.02, -0.1), (-6, -0.52)), "memory"),
    ("74125", 3, ((16, 0.4),), ((-5.2, 2.4),), "memory"),
    ("74LS374", 2, ((12, 0.4), (24, 0.5)), ((-2.6, 2.4),), "memory"),
]


@pytest.mark.parametrize("row", DRIVERS, ids=lambda r: f"{r[0]}-{r[1]}")
def test_drive_of_bus_outputs(row: tuple) -> None:
    name, pin, vol, voh, _ = row
    has = load_part(name).limits[pin]
    assert [(r.amperes, r.limit.value) for r in has.vol] == [(pytest.approx(a * MILLI), v) for a, v in vol]
    assert [(r.amperes, r.limit.value) for r in has.voh] == [(pytest.approx(a * MILLI), pytest.approx(v)) for a, v in voh]
    assert all(r.relative_to_supply is (r.limit.value < 0) for r in has.voh)


def _fan_out(driver: str, load: str) -> int:
    out, into = load_part(driver).limits[3], load_part(load).limits[1]
    low = out.vol[-1].amperes / -into.iil.value
    high = -out.voh[-1].amperes / into.iih.value
    return int(min(low, high) + 1e-9)


@pytest.mark.parametrize(("driver", "load", "loads", "source"), [
    ("7400", "7400", 10, "common practice; follows from 16/1.6 and 400/40"),
    ("7400", "74LS00", 20, "common practice"),
    ("74LS00", "7400", 5, "Motorola LS unit loads: 10 high, 5 low"),
    ("74LS00", "74LS00", 20, "computed"),
    ("74S00", "74S00", 10, "common practice"),
    ("74H00", "74H00", 10, "common practice"),
    ("74F00", "74F00", 33, "follows from the published F figures"),
    ("7400", "74F00", 20, "follows from the published F figures"),
    ("74F00", "7400", 12, "follows from the published F figures"),
])
def test_published_fan_out_follows(driver: str, load: str, loads: int, source: str) -> None:
    assert _fan_out(driver, load) == loads


def _all_parts() -> list[Part]:
    return [load_part(type_name(e.function, f, grade))
            for e in catalogue() for f in e.families for grade in ((54, 74) if f not in OWN_NUMBER else (74,))]


def test_every_figure_names_a_source_that_is_listed() -> None:
    listed = set(tomllib.loads((LIBRARY.parent / "sources.toml").read_text())["source"]) | {"memory"}
    used = set()
    for path in [*LIBRARY.glob("*.toml"), *(LIBRARY.parent / "families").glob("*.toml")]:
        data = tomllib.loads(path.read_text())
        used |= set(_sources(data))
        for family in data.get("family", {}).values() if isinstance(data.get("family"), dict) else ():
            assert ("icc_ma" in family or "icc_ua" in family) == ("icc_source" in family), path
            assert ("iil_ma" in family or "iih_ua" in family) <= ("load_source" in family), path
            assert ("vih" in family or "vil" in family) <= ("level_source" in family), path
    assert used <= listed, used - listed


def _sources(node: object) -> list[str]:
    if isinstance(node, list):
        return [s for inner in node for s in _sources(inner)]
    if isinstance(node, dict):
        own = [s for key in ("source", "icc_source", "load_source", "level_source") if isinstance(s := node.get(key), str)]
        own += node["sources"] if isinstance(node.get("sources"), list) else []
        return own + [s for inner in node.values() for s in _sources(inner)]
    return []


def test_figures_of_all_parts_are_sane() -> None:
    """Signs, order and kinds, whatever the figures are; every output can sink and every totem pole source."""
    parts = _all_parts()
    assert len(parts) > 400
    for part in parts:
        for pin in (*part.inputs, *part.outputs):
            has = part.limits[pin.number]
            assert has.family == part.family and has.grade == part.grade
            assert has.iil.value < 0 < has.iih.value and has.vil.value < has.vih.value
            assert pin.low_unit_loads > 0 and pin.high_unit_loads > 0
        for pin in part.outputs:
            has = part.limits[pin.number]
            assert has.vol and all(r.amperes > 0 and 0 < r.limit.value < 3 for r in has.vol)
            assert (not has.voh) == (pin.role is Role.OPEN_COLLECTOR)
            assert all(r.amperes < 0 for r in has.voh)
            assert all(-2.5 < r.limit.value < 0 if r.relative_to_supply else 1.9 < r.limit.value < 3.7 for r in has.voh)
            if pin.role is not Role.BIDIRECTIONAL:     # one that a resistor pulls up (47) has no off state
                assert (has.off_leakage is not None) == (pin.role is not Role.OUTPUT), (part.name, pin)
        for state in part.supply_states:
            if state.limit:
                assert 0 < state.limit.value < 0.25
                assert state.typical is None or 0 < state.typical < state.limit.value
        assert part.supply_states, part.name


def test_a_pin_that_is_pulled_up_inside_says_what_pulling_it_down_takes() -> None:
    """`when 1`: the pin stands high by a resistor, and the load of an ordinary input is not the whole of its current."""
    pulled = 0
    for path in LIBRARY.glob("*.toml"):
        definition = load_file(path)
        for made in (definition, *definition.others):
            for name in (a.target.text for a in made.assigns if a.enable == Const(True)):
                for family, entry in made.families.items():
                    assert name in entry.get("iil_ma", {}), (path.stem, family, name)
                    pulled += 1
    assert pulled >= 16


@pytest.mark.parametrize(("name", "vih", "vil"), [("CD4069UBE", 4.0, 1.0), ("CD4049UBE", 4.0, 1.0), ("CD4011BE", 3.5, 1.5)])
def test_an_unbuffered_part_has_input_levels_of_its_own(name: str, vih: float, vil: float) -> None:
    """National CD4069UBC, Toshiba TC4069UBP: 4 V and 1 V at 5 V (the 4049UB from memory); buffered parts 3.5 V and 1.5 V (CD4011BC)."""
    part = load_part(name)
    assert {(part.limits[pin.number].vih.value, part.limits[pin.number].vil.value) for pin in part.inputs} == {(vih, vil)}


def test_low_and_high_unit_load_is_one_where_nothing_is_said() -> None:
    assert all(p.low_unit_loads == p.high_unit_loads == 1.0 for p in load_part("74LS00").inputs)


def test_families_are_in_the_usual_order() -> None:
    assert ORDER[0] == "74" and len(set(ORDER)) == 16
