# SPDX-License-Identifier: MIT
"""A part in a place: verdicts that a repairer would give, each with its arithmetic done by hand.

Currents and levels are those of the data books as the part files have them; the verdicts are common practice.
"""
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sagbench.parts import load_file, load_part
from sagbench.parts.lookup import file_names
from sagbench.replace import Verdict, read_place, replacements
from sagbench.report.replacement import as_json, lines

FILES = file_names()
FITS, NOTE, NOT = Verdict.FITS, Verdict.NOTE, Verdict.NOT


@pytest.fixture(scope="module")
def library():
    return [load_file(path) for path in FILES.values()]


def found(library, part, drives=(), driven_by=()):
    """Name -> fit."""
    original = load_part(part)
    place = read_place(original, load_part, drives, driven_by)
    itself, fits = replacements(original, load_file(FILES[original.function]), library, place)
    assert [fit.rank for fit in fits] == sorted(fit.rank for fit in fits)
    return {fit.part.name: fit for fit in (itself, *fits)}


def balances_of(fit, pin):
    return {f.balance.state: f.balance for f in fit.findings if f.balance and pin in f.pins}


def test_the_dead_74h40_of_the_example(library):
    """4 x 2 mA + 2 x 0.4 mA = 8.8 mA: the 74H20 sinks 20, the 7420 16, the 74LS20 8, the 74L20 3.6."""
    fits = found(library, "74H40", ["Y: 4x 74H00, 2x 74LS04"], ["A: 7404"])
    assert fits["74H20"].verdict is FITS and fits["7440"].verdict is NOTE and fits["74LS40"].verdict is NOTE
    assert fits["74LS20"].reasons()[0] == fits["74L20"].reasons()[0] == "sinks too little"
    low = balances_of(fits["74LS20"], "1Y")["low"]
    assert low.need == pytest.approx(8.8e-3) and low.able == pytest.approx(8e-3) and low.share == pytest.approx(1.1)
    assert fits["7420"].wiring == "same pins" and fits["4012B"].wiring == "adapter"
    assert fits["74H22"].reasons() == ["needs a pull-up"]
    assert fits["7421"].verdict is NOT and "inverted" in fits["7421"].differences[0].text


def test_hc_needs_more_than_a_ttl_high_level_unless_a_resistor_pulls_it_up(library):
    """VIH 3.15 V against VOH 2.7 V; with 4.7 kohm to the supply it is 4.5 V less what 100 uA of leakage drop there.
    HCT reads 2.0 V."""
    bare = found(library, "74LS00", ["Y: 74LS04"], ["A B: 74LS04"])
    assert bare["74HC00"].reasons()[0] == "reads no high" and bare["74HCT00"].verdict is NOTE
    helped = found(library, "74LS00", ["Y: 74LS04"], ["A B: 74LS04, 4k7 up"])
    assert helped["74HC00"].verdict is NOTE and balances_of(helped["74HC00"], "1A")["high"].volts == pytest.approx(4.5 - 4700 * 100.1e-6)
    (finding,) = [f for f in bare["74HC00"].findings if f.short == "reads no high" and "1A" in f.pins]
    assert "a pull-up of 625 ohm to 13.5 kohm, 2.7 kohm say, there would mend it" in finding.text


def test_hc_drives_two_standard_loads_and_ten_ls(library):
    """4 mA against 1.6 mA and 0.4 mA."""
    for loads, verdict in (("2x 7404", NOTE), ("3x 7404", NOT), ("10x 74LS04", NOTE), ("11x 74LS04", NOT)):
        assert found(library, "7400", [f"Y: {loads}"], ["A B: 74HC04"])["74HC00"].verdict is verdict, loads


def test_what_drives_the_input_can_be_overloaded(library):
    """A 74L04 sinks 3.6 mA: two 74L00 inputs (0.36 mA) are easy, two standard ones take 3.2 mA, with another one 4.8 mA."""
    fits = found(library, "74L00", ["Y: 74L04"], ["1A: 74L04", "1B: 74L04, 2x 7400"])
    findings = {pin: f for f in fits["7400"].findings for pin in f.pins if f.short == "overloads its driver"}
    assert set(findings) == {"1B"} and findings["1B"].balance.need == pytest.approx(4.8e-3)
    assert fits["74LS00"].verdict is NOTE and balances_of(fits["74LS00"], "1B")["low"].share == pytest.approx(1)     # 0.4 + 3.2 of 3.6 mA


def test_pins_of_the_chip_itself_count_with_the_new_ones_current(library):
    """Both inputs of each gate on one 74LS04 (8 mA), and 2Y into 3A: 2 x 1.6 = 3.2 mA for a 7400, 2 x 2 = 4 mA for a 74S00."""
    fits = found(library, "74LS00", ["2Y: .3A, 74LS04"], ["A: 74LS04, .B"])
    for name, each in (("7400", 1.6e-3), ("74S00", 2e-3), ("74LS00", 0.4e-3)):
        assert balances_of(fits[name], "4A")["low"].need == pytest.approx(2 * each), name
        assert balances_of(fits[name], "2Y")["low"].need == pytest.approx(each + 0.4e-3), name
    assert "heavier inputs" not in fits["7400"].reasons()             # all inputs are told, B by A's line


def test_open_collectors_keep_their_role(library):
    """Wired outputs fight a totem pole; alone on its line a totem pole will do, and an open collector with a resistor."""
    shared = found(library, "74LS03", ["Y: 2x 74LS03.1Y, 3x 74LS04, 2k2 up"])
    assert shared["74LS00"].reasons()[0] == "fights the others" and shared["74LS38"].verdict in (FITS, NOTE)
    alone = found(library, "74LS03", ["Y: 3x 74LS04, 2k2 up"])
    assert alone["74LS00"].reasons() == ["drives both ways"]
    unknown = found(library, "74LS03")
    assert unknown["74LS00"].verdict is NOT and "drives both ways" in unknown["74LS00"].reasons()


def test_a_bus_has_leakage_to_bear(library):
    """Seven other 74LS244 outputs that are off: 7 x 20 uA, and four inputs: 80 uA."""
    fits = found(library, "74LS244", ["Y: 7x 74LS244.1Y1, 4x 74LS373.1D"])
    assert balances_of(fits["74LS244"], "1Y1")["high"].need == pytest.approx(7 * 20e-6 + 4 * 20e-6)
    shared = {fit.part.family: fit.verdict for fit in fits.values() if fit.part.function == "244"}
    assert shared["ALS"] in (FITS, NOTE) and shared["F"] in (FITS, NOTE)


def test_a_relay_at_12_volts(library):
    """7407 and 7417 stand 30 V and 15 V; a 7405's output stands no 12 V (from memory)."""
    fits = found(library, "7407", ["Y: 20mA up 12V"])
    assert fits["7417"].verdict is FITS
    higher = found(library, "7407", ["Y: 20mA up 24V"])
    assert "too little voltage" in higher["7417"].reasons() and higher["74LS07"].verdict in (FITS, NOTE)
    untold = found(library, "7407")
    assert "stands less voltage" in untold["7417"].reasons()


def test_without_a_place_the_original_is_the_measure(library):
    """74LS00 for 7400: sinks 8 mA where that sinks 16; 7400 for 74LS00: IIL 1.6 mA where that takes 0.4."""
    assert "sinks less" in found(library, "7400")["74LS00"].reasons()
    assert "heavier inputs" in found(library, "74LS00")["7400"].reasons()
    assert found(library, "74LS00")["74ALS00"].verdict is FITS


def test_only_what_existed_is_proposed_and_every_family_once(library):
    fits = found(library, "74LS244")
    assert "74244" not in fits and len(fits) == len({(fit.part.function, fit.part.family) for fit in fits.values()})


def test_the_grade_is_kept_or_its_loss_is_told(library):
    fits = found(library, "54LS00")
    assert "54H00" in fits and "54S00" in fits
    only_74 = [fit for fit in fits.values() if fit.part.grade == 74]
    assert all("0 to 70 C only" in fit.reasons() for fit in only_74)


def test_an_adapter_connects_each_signal_and_both_rails(library):
    """7400 and 4011, both pinouts from the data books, typed here: gates 1, 4 alike, 2 and 3 turned round."""
    fit = found(library, "7400")["4011B"]
    wiring = dict(fit.match.wiring)
    gates_7400 = {frozenset({1, 2}): 3, frozenset({4, 5}): 6, frozenset({9, 10}): 8, frozenset({12, 13}): 11}
    gates_4011 = {frozenset({1, 2}): 3, frozenset({5, 6}): 4, frozenset({8, 9}): 10, frozenset({12, 13}): 11}
    assert {frozenset(wiring[pin] for pin in inputs): wiring[out] for inputs, out in gates_7400.items()} == gates_4011
    assert wiring[14] == 14 and wiring[7] == 7


def test_an_adapter_connects_a_monostables_resistor_and_capacitor(library):
    """74123 and 9602, both typed from their data books: 1RCX is 15 there and 2 here."""
    wiring = dict(found(library, "74123")["9602"].match.wiring)
    assert wiring[16] == 16 and wiring[8] == 8 and wiring[15] == 2 and wiring[7] == 14


def test_a_supply_the_original_may_have_had_and_the_part_cannot_take_is_told(library):
    """3 to 15 V of the 4000B, 2 to 6 V of HC and AC, 5 V of the rest (common practice)."""
    fits = found(library, "4011")
    assert "other supply" in fits["74HC00"].reasons() and "other supply" not in fits["4093B"].reasons()
    fits = found(library, "74HC00")
    assert "other supply" in fits["74HCT00"].reasons() and "other supply" not in fits["74AC00"].reasons()
    assert "other supply" not in found(library, "74LS00")["74HCT00"].reasons()


def test_monostables_go_by_what_is_known_of_them(library):
    fits = found(library, "74123")
    assert fits["74LS123"].verdict is not NOT
    assert fits["74221"].verdict is NOT and "not retriggerable" in fits["74221"].differences[0].text
    assert fits["74221"].wiring == "same pins"
    assert found(library, "74121")["74221"].reasons()[:2] == ["other timing", "other circuit"]


def test_cmos_in_place_of_ttl_warns_of_open_inputs(library):
    fits = found(library, "74LS04", ["Y: 74LS00"], ["A: 74HC04"])
    assert "no open inputs" in fits["74HCT04"].reasons() and "no open inputs" not in fits["7404"].reasons()


@settings(max_examples=8, deadline=None)
@given(count=st.integers(1, 40), more=st.integers(1, 20), load=st.sampled_from(["7404", "74LS04", "74S04", "74HCT04"]))
def test_more_on_the_line_never_makes_a_part_fit_better(library, count, more, load):
    order = list(Verdict)
    before = found(library, "7400", [f"Y: {count}x {load}"], [f"A: 74LS04, {count}x {load}"])
    after = found(library, "7400", [f"Y: {count + more}x {load}"], [f"A: 74LS04, {count + more}x {load}"])
    assert before.keys() == after.keys()
    for name, fit in before.items():
        assert order.index(after[name].verdict) >= order.index(fit.verdict), name


def test_speed_and_supply_current_count(library):
    fits = found(library, "74S00")
    assert "slower" in fits["74LS00"].reasons() and "slower" in fits["74L00"].reasons()
    assert "takes more current" in found(library, "74LS00")["74S00"].reasons()
    assert "steeper edges" in found(library, "7400")["74S00"].reasons()


def test_a_row_says_which_figures_behind_its_verdict_are_from_memory(library):
    """The 74H20's are in a data book (its source is named), those of the 74S40 are recalled; ICC within bounds decides nothing."""
    original = load_part("74H40")
    place = read_place(original, load_part, ["Y: 4x 74H00, 2x 74LS04"], ["A B C D: 7404"])
    itself, fits = replacements(original, load_file(FILES["40"]), library, place)
    by_name = {fit.part.name: fit for fit in fits}
    assert by_name["74H20"].recalled == () and set(by_name["74S40"].recalled) == {"IOL", "IOH", "IIL", "IIH", "edges"}
    rows = "\n".join(lines(itself, fits, place)).split("\n\n")
    table = " ".join(next(part for part in rows if "because" in part).split())
    assert "74H20 same pins fits 2 " in table and "steeper edges; [memory] IOL, IOH, IIL, IIH, edges" in table
    assert f"[memory] of the {original.name} itself: " not in "".join(rows)          # its own figures are not what decides here
    told = {row["part"]: row for row in as_json(itself, fits)["replacements"]}
    assert told["74H20"]["recalled"] == [] and told["74S40"]["recalled"] == list(by_name["74S40"].recalled)


def test_what_is_recalled_of_the_part_itself_is_said_once_and_in_no_row(library):
    """Its rows would else say the same, one after the other; data have it in each."""
    original = load_part("930")
    itself, fits = replacements(original, load_file(FILES["930"]), library, read_place(original, load_part))
    text = "\n".join(lines(itself, fits, read_place(original, load_part)))
    assert text.count("[memory] of the 930 itself: IOL, IOH, IIL, IIH.") == 1 and " of 930" not in text
    assert "IOL of 930" in next(fit for fit in fits if fit.part.name == "932").recalled


@pytest.mark.parametrize(("part", "drives", "driven_by"), [("7400", [], []), ("74LS00", ["Y: 2x 74S40"], ["A B: 74L00"]), ("7406", ["1Y: 15mA up 25V; 2Y: 3x 74LS04, 2k2 up"], [])])
def test_no_figure_from_memory_goes_unnamed(library, part, drives, driven_by):
    """What the words of a finding call [memory] its list has too."""
    original = load_part(part)
    place = read_place(original, load_part, drives, driven_by)
    itself, fits = replacements(original, load_file(FILES[original.function]), library, place)
    told = [finding for fit in (itself, *fits) for finding in fit.findings]
    for finding in told:
        balance = finding.balance
        sources = [balance.source, balance.threshold_source, *(term.source for term in balance.terms)] if balance else []
        assert bool(finding.recalled) == ("[memory]" in finding.text or "memory" in sources), finding
        assert not any("of its own" in name for name in finding.recalled), finding
    assert any(finding.recalled for finding in told)
