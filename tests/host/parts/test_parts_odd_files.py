"""Part files nobody should write, and some that editors do: each gets an answer with a place, none a traceback.

Referees: `tomllib` for what is TOML; the limits on depth and length are our own, and Python's recursion limit is the reason.

SPDX-License-Identifier: MIT
"""
import pytest

from sagbench.errors import PartFileError
from sagbench.parts.equations import DEEPEST, DEEPEST_WIRES, LONGEST
from sagbench.parts.lookup import load_file
from sagbench.parts.program import MOST_STEPS
from sagbench.parts.reader import read

LOGIC = 'logic = ["{}Y = {}A"]'
GOOD = f'''\
function = "1034"
title = "hex buffer"
sources = ["memory"]

[[pinout]]
pins = ["1A", "1Y", "2A", "2Y", "3A", "3Y", "GND", "4Y", "4A", "5Y", "5A", "6Y", "6A", "VCC"]

[[block]]
each = ["1", "2", "3", "4", "5", "6"]
inputs = ["{{}}A"]
outputs = ["{{}}Y"]
{LOGIC}

[family.ALS]
'''
INPUTS = 'inputs = ["{}A"]'


def mistakes(text: str) -> list[str]:
    with pytest.raises(PartFileError) as caught:
        read(text, "x.toml", "x.toml")
    return list(caught.value.mistakes)


def said(statement: str) -> str:
    return GOOD.replace(LOGIC, f'logic = ["{statement}"]')


@pytest.mark.parametrize(("text", "place", "part"), [
    (said("{}Y = " + "(" * 300 + "{}A" + ")" * 300), "12:", f"at most {DEEPEST} operators"),
    (said("{}Y = " + "!" * 3000 + "{}A"), "12:", f"at most {DEEPEST} operators"),
    (said("{}Y = {}A" + " | {}A" * 500), "12:", f"at most {DEEPEST} operators"),
    (said("{}Y = " + "{}A ? 0 : " * 300 + "1"), "12:", f"at most {DEEPEST} operators"),
    (said("{}Y = {}A" + " | {}A" * 50_000), "12:", f"{LONGEST} or less"),
    (GOOD.replace(LOGIC, 'logic = ["{}Y = {}W999", "{}W0 = {}A", ' + ", ".join(f'"{{}}W{i} = !{{}}W{i - 1}"' for i in range(1, 1000)) + "]"),
     "12:", f"{DEEPEST_WIRES} or less"),
    (said("{}Y = __import__('os').system('true')"), "12:28", "a name or an operator"),
    (said("{}Y = {}A.__class__"), "12:20", "a name or an operator"),
    (said("undefined = 1"), "12:11", "'undefined'"),
    (GOOD + "x = " + "[" * 3000 + "]" * 3000, "1:1", "too deep"),
    (GOOD + "icc_ma = { high = " + "9" * 5000 + " }\n", "15:19", "a number that cannot be"),
    (GOOD + "icc_ma = { high = 1e400 }\n", "15:19", "a finite number"),
    (GOOD + "icc_ma = { high = nan }\n", "15:19", "a finite number"),
    (GOOD + "icc_ma = { high = [-inf, 2] }\n", "15:20", "a finite number"),
    (GOOD + "icc_ma = { high = -5 }\n", "15:19", "0 or more"),
    (GOOD + "icc_ma = { high = 66000 }\n", "15:19", "microamperes are icc_ua"),
    (GOOD + "icc_ma = { high = [5, 3] }\n", "15:19", "the smaller one first"),
    (GOOD + 'iil_ma = { "*A" = 0.2 }\n', "15:19", "flows out of the pin is negative"),
    (GOOD + 'iih_ua = { "*A" = -20 }\n', "15:19", "0 or more"),
    (GOOD.replace('"VCC"]', '"VCC"]\nanalog = ["1Y"]'), "7:11", "which a block lists"),
    (GOOD.replace('"VCC"]', '"VCC"]\nanalog = ["QQ"]'), "7:11", "a name of `pins`"),
    (GOOD.replace('"VCC"]', '"VCC"]\nsupply = ["VEE"]'), "7:11", "a name of `pins`"),
    (GOOD.replace(INPUTS, 'inputs = ["{}A", "VCC"]'), "10:18", "the name of a signal"),
    (GOOD.replace(INPUTS, 'inputs = ["{}A", "{}Y"]'), "10:18", "bidirectional"),
    (GOOD.replace(INPUTS, INPUTS + '\nschmitt = ["{}B"]'), "11:12", "an input of this block"),
    (GOOD.replace(LOGIC, 'logic = ["{}q := {}A while 1", "{}Y = {}q"]'), "12:10", "a state bit and no `program`"),
    (GOOD.replace(LOGIC, LOGIC + '\nprogram = ["{}A^ *4096"]'), "13:12", f"{MOST_STEPS} steps"),
    (GOOD.replace(LOGIC, LOGIC + '\nprogram = ["{}A^40000"]'), "13:12", "pulses or less"),
], ids=lambda value: value if len(value) < 30 else "")
def test_is_refused_with_its_place(text: str, place: str, part: str) -> None:
    told = mistakes(text)
    assert len(told) == 1, told
    assert told[0].startswith(f"x.toml:{place}") and part in told[0], told


def test_what_is_just_within_the_limits_is_read() -> None:
    read(said("{}Y = " + "!" * (DEEPEST - 2) + "{}A"), "x.toml", "x.toml")
    wires = ", ".join(f'"{{}}W{i} = !{{}}W{i - 1}"' for i in range(1, 40))
    read(GOOD.replace(LOGIC, f'logic = ["{{}}Y = {{}}W39", "{{}}W0 = {{}}A", {wires}]'), "x.toml", "x.toml")


@pytest.mark.parametrize("written", [GOOD.replace("\n", "\r\n").encode(), b"\xef\xbb\xbf" + GOOD.encode(),
                                     GOOD.replace("hex buffer", "Sechsfach-Verstärker µ").encode()])
def test_what_editors_do_is_read_all_the_same(tmp_path, written: bytes) -> None:
    """CR LF, a byte order mark (Windows), letters of other languages."""
    path = tmp_path / "1034.toml"
    path.write_bytes(written)
    assert load_file(path).function == "1034"


def test_utf_16_is_told(tmp_path) -> None:
    path = tmp_path / "1034.toml"
    path.write_text(GOOD, encoding="utf-16")
    with pytest.raises(PartFileError, match="not UTF-8"):
        load_file(path)


MIXED = '''\
function = "276"
titel = "quad JK flip-flop"

[[pinout]]
pins = ["CLR", "J", "CK", "K", "Q", "GND", "NC", "VCC"]

[[block]]
inputs = ["J", "CK", "K", "CLR"]
outputs = ["Q"]
logic = ["q := J & !q | !K & q on faling CK, clear !CLR", "Q = qq"]
program = ["CLR=0; CLR=1", "FOO=1", "J=2"]

[family.74]
icc_ma = { quiesent = 81 }
'''


def test_a_misspelt_key_is_one_mistake_and_hides_none_of_pins_and_logic() -> None:
    starts = [line.split(" ")[0] for line in mistakes(MIXED)]
    assert starts == ["x.toml:2:1:", "x.toml:10:35:", "x.toml:10:64:", "x.toml:14:12:"]


def test_what_to_apply_is_looked_at_beside_mistakes_of_logic_and_figures() -> None:
    starts = [line.split(" ")[0] for line in mistakes(MIXED.replace("titel", "title"))]
    assert starts == ["x.toml:10:35:", "x.toml:10:64:", "x.toml:11:29:", "x.toml:11:38:", "x.toml:14:12:"]
