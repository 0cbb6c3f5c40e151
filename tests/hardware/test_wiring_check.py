"""Each check of the wiring catches a planted mistake, at its line, and only planted ones.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from pathlib import Path

import pytest

from hardware import check
from hardware.wiring import PATH

TEXT = PATH.read_text()

# (what is planted, text to replace, replacement, words of the complaint, a text on the line complained of)
PLANTED = [
    ("two outputs on a net", '"LOAD_A", "LOAD_B", "LOAD_C", "NC", "NC"]', '"LOAD_A", "LOAD_B", "LOAD_C", "LAMP", "NC"]',
     "net LAMP is driven by A1.D13 and U5.QG", 'ref = "U5"'),
    ("an output on the supply", 'QH2 = "SER_BACK", VCC', 'QH2 = "V5", VCC', "net V5 is driven by U7.QH2 and the supply", 'ref = "U7"'),
    ("a controller pin used twice", 'D4  = { port = "PG5"', 'D4  = { port = "PE3"', "port pin PE3 is both D4 and D5", "D5  ="),
    ("a net at two controller pins", 'D49 = { port = "PL0", net = "" }', 'D49 = { port = "PL0", net = "S10" }',
     "net S10 is at two controller pins, D4 and D49", "D49 ="),
    ("a net misspelt", 'pins = { 1 = "LD", 2 = "L_WEAK" }', 'pins = { 1 = "LD", 2 = "L_WEEK" }', "L_WEEK has only one end",
     'ref = "R311"'),
    ("a value missing", "ohm = 100000\ntolerance = 0.01\npins", "tolerance = 0.01\npins", "R312 has no `ohm`", 'ref = "R312"'),
    ("a designator twice", 'ref = "R312"', 'ref = "R311"', "designator R311 is used twice", "100000"),
    ("a designator that `each` makes", 'ref = "R312"', 'ref = "R124"', "designator R124 is used twice", 'ref = "R124"'),
    ("an unknown kind", 'kind = "lm4040"\nrole', 'kind = "lm404O"\nrole', "U9 is of kind lm404O", 'ref = "U9"'),
    ("a pin without a net", 'pins = { A = "LAMP_A", K = "GND" }', 'pins = { A = "LAMP_A" }', "D303 has no net at pin K",
     'ref = "D303"'),
    ("a pin that the kind has not", 'pins = { A = "LAMP_A", K = "GND" }', 'pins = { A = "LAMP_A", K = "GND", Q = "GND" }',
     "has no pin Q", 'ref = "D303"'),
    ("seven channels", '"L_HEAVY", "VREF", "GND"]', '"L_HEAVY", "VREF"]', "U4 has 7 channels", 'ref = "U4"'),
    ("a position without S", 'net = "S16" }', 'net = "" }', "position 16 has no S line", "[socket]"),
    ("a position without M", 'net = "M16" }', 'net = "" }', "position 16 has no M line", "[socket]"),
    ("a position without sense channel", '"Z7", "Z8"]', '"Z7", "NC"]', "position 8 has 0 sense channels", "[socket]"),
    ("a position with two sense channels", '"Z7", "Z8"]', '"Z7", "Z9"]', "position 9 has 2 sense channels", "[socket]"),
    ("a strong resistor to the wrong position", 'pins = { 1 = "S{k}", 2 = "Z{k}" }', 'pins = { 1 = "S{k}", 2 = "Z1" }',
     "position 2 has 0 resistors from S2 to Z2", "[socket]"),
    ("a port pin in no group", '"PJ7", "PA0", ', '"PJ7", ', "port pin PA0 is in 0 port groups", "D22 ="),
    ("a converter channel elsewhere", "VDAC = 2, VREF = 3", "VDAC = 2, VREF = 4", "converter channel 4 is not where net VREF",
     "channels = {"),
    ("registers in the wrong order", 'SER = "CHAIN_1"', 'SER = "CHAIN_2"', "U6.SER is on CHAIN_2", 'ref = "U6"'),
    ("registers numbered with a hole", "chain = 3", "chain = 4", "U7 has chain = 4 where 3 is due", 'ref = "U7"'),
    ("a register without the latch", 'RCLK = "LATCH", OE = "GND"', 'RCLK = "SER_CLK", OE = "GND"', "U5.RCLK is on SER_CLK",
     'ref = "U5"'),
    ("no spread of a kind", "[kind.lm4040]\ndynamic_ohm = 0.5\nmin_bias_ma = 0.1\n", "", "there is no [kind.lm4040]",
     'ref = "U9"'),
    ("supply switches elsewhere than listed", 'outputs = ["P4", "P1", "NC",', 'outputs = ["P4", "NC", "NC",',
     "net P1 has only one end", 'ref = "R{k+400}"'),
    ("ground positions that the registers do not serve", "ground_positions = [7, 8, 9, 10, 12, 20, 21]",
     "ground_positions = [7, 8, 9, 10, 12, 20]", "net N21 has only one end", 'ref = "U6"'),
    ("switches beside the positions listed", 'pins = { E = "GND", B = "NB{k}", C = "Z{k}" }',
     'pins = { E = "GND", B = "NB{k}", C = "Z{k+1}" }', "ground switches are at positions [8, 9, 10, 11, 13, 21, 22]",
     "ground_positions ="),
    ("a switch that does not hang on the dead-man", 'SER = "CHAIN_1", SRCLK = "SER_CLK", RCLK = "LATCH", OE = "OE_N"',
     'SER = "CHAIN_1", SRCLK = "SER_CLK", RCLK = "LATCH", OE = "GND"', "U6.OE is on GND", 'ref = "U6"'),
    ("a switch with nothing to keep it off", 'pins = { 1 = "NB{k}", 2 = "GND" }', 'pins = { 1 = "NB{k}", 2 = "V5" }',
     "Q207 has no resistor from base to GND", 'ref = "Q{k+200}"'),
    ("a supply switch from the wrong rail", 'pins = { E = "VBUS", B = "PB{k}"', 'pins = { E = "V5", B = "PB{k}"',
     "Q124.E is on V5", 'ref = "Q{k+100}"'),
    ("a multiplexer on at reset", 'pins = { 1 = "INH_B", 2 = "V5" }', 'pins = { 1 = "INH_B", 2 = "GND" }',
     "U2.INH has no pull-up", 'ref = "U2"'),
    ("switches on at reset", 'pins = { 1 = "OE_N", 2 = "V5" }', 'pins = { 1 = "OE_N", 2 = "GND" }', "OE_N has no pull-up",
     "[controller.wires]"),
    ("a size that reaches no ground", "sizes = [14,", "sizes = [6, 14,", "6 pins reaches no ground position", "sizes ="),
    ("a load point that is no load", 'name = "weak"\nlines = []\nload = 1', 'name = "weak"\nlines = []\nload = 7',
     "channel 7 (GND) is no load", 'name = "weak"'),
    ("a load point with an unknown line", 'lines = ["S"]\nload = 0', 'lines = ["X"]\nload = 0', "lines are M and S",
     'name = "strong"'),
    ("load points out of order", "up = 15.8", "up = 7.8", "7.8 mA is not more than the one before", 'name = "strong"'),
    ("references in another order than the wire's", 'name = "v1v1"\ncode = 2', 'name = "v1v2"\ncode = 2', "same names, same order",
     "[[adc.reference]]"),
    ("a trip that is not what the parts do", "trip_ma = 189", "trip_ma = 150", "the parts trip at 189.4 mA", "trip_ma ="),
    ("a strong line over the pin's rating", "ohm = 270", "ohm = 200", "can carry 24.1 mA into a short", "pin_test_ma ="),
    ("a load over the pin's rating", "ohm = 220\n", "ohm = 120\n", "LD can carry", "pin_test_ma ="),
    ("a load over the multiplexer's rating", "switch_limit_ma = 25", "switch_limit_ma = 12",
     "load point heavy: 15.5 mA through a multiplexer", 'name = "heavy"'),
    ("drive lines over the multiplexer's rating", "switch_limit_ma = 25", "switch_limit_ma = 16", "both lines of a position",
     "[kind.hc4051]"),
    ("a group too small for its M lines", '"PL7"]\nlimit_ma = 200', '"PL7"]\nlimit_ma = 80', "group G2: all its M lines",
     'name = "G2"'),
    ("a group too small for its load", '"PK7"]\nlimit_ma = 100', '"PK7"]\nlimit_ma = 50',
     "group G5: all its M lines into shorts are 55 mA", 'name = "G5"'),
    ("a group too small for verified lines and a load", "verified_pin_ma = 4.0", "verified_pin_ma = 14.0", "group G5: all S lines verified",
     'name = "G5"'),
    ("a total that can be exceeded", "total_budget_ma = 195", "total_budget_ma = 120", "the total budget is 120 mA",
     "total_budget_ma ="),
    ("a budget above the data sheet", "total_budget_ma = 195", "total_budget_ma = 250", "above the data sheet's limit",
     "total_budget_ma ="),
    ("two loads at once", "load_outputs = 1", "load_outputs = 2", "one position at a time", "load_outputs ="),
    ("a dead-man slower than the watchdog", "watchdog_ms = 60", "watchdog_ms = 30", "slower than the watchdog", "dead_man_ms ="),
    ("a list that is not there", 'each = "decoupled"', 'each = "decouple"', "names no list", "[[part]]"),
    ("no TOML", "[socket]", "[socket", "mend the TOML", "[socket"),
    ("a table missing", "[interlock]", "[interlocks]", "there is no 'interlock'", "# hardware"),
]


def test_the_wiring_has_no_mistake() -> None:
    assert check.check(TEXT) == []


@pytest.mark.parametrize(("old", "new", "says", "where"), [p[1:] for p in PLANTED], ids=[p[0] for p in PLANTED])
def test_planted(old: str, new: str, says: str, where: str) -> None:
    assert old in TEXT
    text = TEXT.replace(old, new, 1)
    mistakes = check.check(text)
    lines = text.splitlines()
    found = [line for line, sentence in mistakes if says in sentence]
    assert found, mistakes
    # `[[part]]` stands a line or some above the words that tell one part from another.
    assert any(where in "\n".join(lines[line - 1:line + 5]) for line in found), [lines[line - 1] for line in found]


def test_mistakes_are_printed_with_file_and_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bad = tmp_path / "bad.toml"
    bad.write_text(TEXT.replace("trip_ma = 189", "trip_ma = 99"))
    assert check.main([str(bad)]) == 1
    number = next(i for i, line in enumerate(bad.read_text().splitlines(), 1) if line.startswith("trip_ma"))
    assert capsys.readouterr().err.startswith(f"{bad}:{number}: trip_ma is 99")
    assert check.main([]) == 0
    assert check.main([str(tmp_path / "none.toml")]) == 2
    assert "No such file" in capsys.readouterr().err
