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
    ("a trip that is not what the parts do", "trip_ma = 191", "trip_ma = 150", "the parts trip at 191.0 mA", "trip_ma ="),
    ("a strong line over the pin's rating", "ohm = 270", "ohm = 200", "can carry 24.1 mA into a short, and so can 23 more;", 'ref = "R{k+100}"'),
    ("a load over the pin's rating", "ohm = 220\n", "ohm = 120\n", "LD, through R315, can carry", 'ref = "R315"'),
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
    ("a table missing", "[interlock]", "[interlocks]", "there is no [interlock]", "# hardware"),
    ("a table misspelt", "[interlock]", "[interlocks]", "do you mean interlock?", "[interlocks]"),
    ("a table of parts misspelt", '[[part]]\nref = "R311"', '[[parts]]\nref = "R311"', "[parts] is nothing of a wiring file; do you mean part?", "[[parts]]"),
    ("a key misspelt", "trip_ma = 191", "trip_ma = 191\ntripp_ma = 3", "do you mean trip_ma?", "tripp_ma"),
    ("a key of a part misspelt", "ohm = 8200", "ohms = 8200", "`ohms` is nothing of a wiring file; do you mean ohm?", 'ref = "R311"'),
    ("a key twice", "ohm = 8200", "ohm = 8200\nohm = 8300", "Cannot overwrite a value", "ohm = 8300"),
    ("a board pin twice", "D5  = {", "D4  = {", "Cannot overwrite a value", 'net = "M10"'),
    ("a terminal twice", 'pins = { 1 = "LD", 2 = "L_WEAK" }', 'pins = { 1 = "LD", 1 = "L_WEAK" }', "Duplicate inline table key '1'",
     "L_WEAK"),
    ("an inhibit that no pin drives", 'net = "INH_B" }', 'net = "" }', "net INH_B is at no controller pin", "[controller.wires]"),
    ("a latch that no pin drives", 'net = "LATCH" }', 'net = "" }', "net LATCH is at no controller pin", "[controller.wires]"),
    ("a role that nobody has", 'role = "shunt"', 'role = "shut"', 'no part has the role "shunt"', "[[part]]"),
    ("positions without a list", 'each = "decoupled"\n', "", "has {k} but no `each`", 'ref = "C{k+310}"'),
    ("a converter reference from nowhere", 'from = "V5"\n', "", "give `from` (a net) or `volts`", 'name = "avcc"'),
    ("a value as text", "ohm = 8200", 'ohm = "8k2"', "R311: ohm is '8k2'; write a number above 0", 'ref = "R311"'),
    ("a negative value", "nf = 1000\n", "nf = -1000\n", "C304: nf is -1000; write a number above 0", 'ref = "C304"'),
    ("a tolerance in per cent", "ohm = 8200\ntolerance = 0.01", "ohm = 8200\ntolerance = 1", "1 % is 0.01", 'ref = "R311"'),
    ("a span without its end", "driver_ohm = { typ = 27, min = 20, max = 40 }", "driver_ohm = { typ = 27, min = 20 }", "driver_ohm is",
     "driver_ohm ="),
    ("a span upside down", "driver_ohm = { typ = 27, min = 20, max = 40 }", "driver_ohm = { typ = 27, min = 50, max = 40 }",
     "in this order of size", "driver_ohm ="),
    ("a supply without its least voltage", "min_v = 4.75\n", "", "[supply] has no `min_v`", "[supply]"),
    ("an interlock missing", "verified_pin_ma = 4.0", "", "[interlock] has no `verified_pin_ma`", "[interlock]"),
    ("a spread missing", "output_ohm = { typ = 45, min = 25, max = 70 }", "", "[kind.hc595] has no `output_ohm`", "[kind.hc595]"),
    ("a wire without net", '{ port = "PB4", net = "LD" }', '{ port = "PB4" }', "board pin D10 has no `net`", "D10 ="),
    ("a wire that is no table", '{ port = "PB4", net = "LD" }', '"LD"', "board pin D10 is 'LD'", "D10 ="),
    ("a wire to an unknown net", 'net = "LAMP"', 'net = "LAMPE"', "net LAMPE has only one end, A1.D13", "D13 ="),
    ("a port without limit", '"PL7"]\nlimit_ma = 200', '"PL7"]', "G2 has no `limit_ma`", 'name = "G2"'),
    ("a load point without load", 'name = "weak"\nlines = []\nload = 1', 'name = "weak"\nlines = []', "weak has no `load`", 'name = "weak"'),
    ("a load point's load as text", 'name = "weak"\nlines = []\nload = 1', 'name = "weak"\nlines = []\nload = "1"',
     "weak: load is '1'", 'name = "weak"'),
    ("a load point that its resistors do not make", "up = 8.0, down = 5.8", "up = 12.0, down = 5.8",
     "load point medium: nominal_ma up is 12.0, its resistors give 8.01 mA", 'name = "medium"'),
    ("a part without designator", 'ref = "R311"\n', "", "has no `ref`", "ohm = 8200"),
    ("a part without kind", 'kind = "resistor"\nrole = "weak load"', 'role = "weak load"', "R311 has no `kind`", 'ref = "R311"'),
    ("sizes that are no list", "sizes = [14, 16, 18, 20, 22, 24]", "sizes = 14", "sizes is 14; write a list", "sizes ="),
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
    bad.write_text(TEXT.replace("trip_ma = 191", "trip_ma = 99"))
    assert check.main([str(bad)]) == 1
    number = next(i for i, line in enumerate(bad.read_text().splitlines(), 1) if line.startswith("trip_ma"))
    assert capsys.readouterr().err.startswith(f"{bad}:{number}: trip_ma is 99")
    assert check.main([]) == 0
    assert check.main([str(tmp_path / "none.toml")]) == 2
    assert "No such file" in capsys.readouterr().err
    assert check.main([str(tmp_path)]) == 2
    assert "Is a directory; name a wiring file" in capsys.readouterr().err
    bad.write_bytes(b"\xff\xfe not text")
    assert check.main([str(bad)]) == 2
    assert "is not text in UTF-8" in capsys.readouterr().err


def test_help_says_what_is_looked_at(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        check.main(["--help"])
    said = capsys.readouterr().out
    assert ended.value.code == 0
    assert all(word in said for word in ("FILE:LINE", "Exit code", "hardware/reduced/wiring.toml", "load points"))


LINES = TEXT.splitlines()
VALUES = [number for number, line in enumerate(LINES) if "=" in line and not line.lstrip().startswith("#")]


@pytest.mark.parametrize(("becomes", "part"), [(None, slice(None)), ('"text"', slice(0, None, 4)), ("-1", slice(1, None, 4)),
                                               ("[]", slice(2, None, 4)), ("{}", slice(3, None, 4))],
                         ids=["missing", "text", "negative", "list", "table"])
def test_no_single_value_gives_a_traceback(becomes: str | None, part: slice) -> None:
    """Values of the file missing or of the wrong kind, one at a time: what comes of it is told with a line, a missing one always.

    What may be missing: a board pin on no net.
    """
    silent = []
    for number in VALUES[part]:
        key = LINES[number].split("=")[0]
        changed = [*LINES[:number], *([] if becomes is None else [f"{key}= {becomes}"]), *LINES[number + 1:]]
        mistakes = check.check("\n".join(changed))
        assert all(line >= 1 and sentence for line, sentence in mistakes)
        if not mistakes and 'net = ""' not in LINES[number]:
            silent.append(LINES[number])
    assert becomes is not None or silent == []
