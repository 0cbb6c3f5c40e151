# SPDX-License-Identifier: MIT
"""`parts doubt`: chips on paper, some bad, some sound but defined wrongly; the program must tell which.

The slips and faults are put in here by hand; single stuck-at faults are the classic model of a logic
fault (Breuer and Friedman, Diagnosis and Reliable Design of Digital Systems, 1976; from memory).
"""
import io
import json

import pytest

import rig
from host.cli import paper_chip
from host.measure.ideal import IdealChip, IdealDevice
from sagbench.cli.main import main
from sagbench.doubt.statements import independent, lines, read_by
from sagbench.doubt.suspects import changes
from sagbench.parts import equations, load_file, load_part
from sagbench.parts.behaviour import Machine, Network
from sagbench.parts.lookup import LIBRARY
from sagbench.plan.fixture import load_fixture
from sagbench.report.codec import to_json
from sagbench.report.statement import statement
from sagbench.sweep import sweep


@pytest.fixture(autouse=True)
def no_parts_of_ones_own(monkeypatch):
    monkeypatch.setenv("SAGBENCH_PARTS", "")
    monkeypatch.delenv("COLUMNS", raising=False)


@pytest.fixture
def doubted(tmp_path, capsys):
    """doubted(name, slips, **faults) -> exit code, JSON: slips are put into the definition, faults into the chip."""
    def run(name, slips=(), **faults):
        function = load_part(name).function
        text = (LIBRARY / f"{function}.toml").read_text()
        chip = load_file(LIBRARY / f"{function}.toml")
        for old, new in slips:
            assert old in text
            text = text.replace(old, new)
        (tmp_path / f"{function}.toml").write_text(text)
        part = load_part(name, user_dirs=[tmp_path] if slips else [])
        (tmp_path / "chip.json").write_text(to_json(paper_chip.record(part, chip, **faults)))
        words = ["parts", "doubt", str(tmp_path / "chip.json"), *(["--parts-dir", str(tmp_path)] if slips else [])]
        code = main([*words, "--json"])
        told = json.loads(capsys.readouterr().out)
        assert main(words) == code
        told["text"] = capsys.readouterr().out
        return code, told
    return run


def test_a_sound_chip_leaves_nothing_to_doubt(doubted):
    code, told = doubted("74LS04")
    assert code == 0 and told["leaning"] == "agrees" and told["wrong"] == []
    assert "All 42 answers are as the definition says" in told["text"]


@pytest.mark.parametrize("name, fault, cause", [
    ("74LS04", {"3Y": False}, "3Y stuck low inside the chip"),
    ("74LS00", {"2B": True}, "2B stuck high inside the chip"),
    ("74LS181", {"A2": True}, "A2 stuck high inside the chip"),
    ("74LS245", {"G": True}, "G stuck high inside the chip"),
    ("74LS138", {"B": False}, "B stuck low inside the chip"),
    ("74LS373", {"3D": True}, "3D stuck high inside the chip"),
    ("74LS244", {"1G": True}, "1G stuck high inside the chip"),
])
def test_a_bad_chip_is_told_from_a_wrong_definition(doubted, name, fault, cause):
    code, told = doubted(name, stuck=fault)
    assert code == 1 and told["leaning"] == "chip", told["summary"]
    assert cause in [c["sentence"] for c in told["causes"] if c["kind"] == "chip"]
    assert "The chip is suspect" in told["text"] and cause in told["text"]


@pytest.mark.parametrize("name, slips, cause, line", [
    ("74LS04", [("{}Y = !{}A", "{}Y = {}A")], "`{}Y = !{}A`", "{}Y = !{}A"),
    ("74LS00", [("& {}B", "| {}B")], "`{}Y = !({}A & {}B)`", "!({}A & {}B)"),
    ("74LS74", [("on rising", "on falling")], "on rising {}CLK", "on rising"),
    ("74LS74", [("clear !{}CLR", "clear {}CLR")], "clear !{}CLR", "clear !"),
    ("74LS163", [("TC = T & qA & qB", "TC = T & qA")], "`TC = T & qA & qB`", "TC = "),
    ("74LS125", [("when !{}G", "when {}G")], "when !{}G", "when !"),
])
def test_a_wrong_equation_is_named_with_its_line_and_mended(doubted, name, slips, cause, line):
    code, told = doubted(name, slips)
    assert code == 1 and told["leaning"] == "definition", told["summary"]
    function = load_part(name).function
    number = next(i for i, text in enumerate((LIBRARY / f"{function}.toml").read_text().splitlines(), 1) if line in text)
    assert any(cause in c["sentence"] and c["line"] == number for c in told["causes"]), told["causes"]
    assert "The definition is suspect" in told["text"] and f"line {number} would have to read" in told["text"]


def test_two_pins_exchanged_in_the_pinout(doubted):
    _, told = doubted("7425", [('"1A", "1B", "1G"', '"1G", "1B", "1A"')])
    assert told["leaning"] == "definition"
    assert [c["sentence"] for c in told["causes"]] == ["the pins 1A and 1G would have to change places in the pinout"]


def test_an_output_listed_as_the_wrong_kind(doubted):
    _, told = doubted("74LS03", [("open_collector = ", "outputs = ")])
    assert told["leaning"] == "definition"
    assert any(c["sentence"] == '"{}Y" would have to be listed under open_collector' for c in told["causes"])


def test_a_dead_common_input_may_be_either(doubted):
    _, told = doubted("74LS163", stuck={"ENT": True})
    assert told["leaning"] == "either" and "try another chip" in told["text"]


def test_seven_outputs_that_work_are_not_all_off(doubted):
    """One dead data input of eight must not be taken for the dead output enable of them all."""
    _, told = doubted("74LS373", stuck={"3D": True})
    assert [c["sentence"] for c in told["causes"]] == ["3D stuck high inside the chip"]


def test_levels_that_are_none_are_no_matter_of_definition(doubted):
    _, told = doubted("74LS04", dead={"2Y": 1.4})
    assert told["leaning"] == "chip" and told["causes"] == [] and "neither low nor high" in told["text"]


def test_one_gate_unlike_its_sisters(doubted):
    _, told = doubted("74LS00", stuck={"3Y": True})
    assert told["sisters"] == ["line 13, `{}Y = !({}A & {}B)`, is right for 1Y, 2Y, 4Y and wrong for 3Y: one definition, unlike gates"]


def test_wrong_answers_are_told_with_step_inputs_and_volts(doubted):
    _, told = doubted("74LS04", stuck={"3Y": False})
    first = told["wrong"][0]
    assert {**first, "step": 0} == {"step": 0, "pin": 6, "expected": "H", "seen": "L", "volts": 0.2}
    assert f"- step {first['step'] + 1}, 3A=0: pin 6 (3Y) should be high and is low (0.20 V)" in told["text"]
    assert max(map(len, told["text"].splitlines())) <= 80 and told["text"].isascii()


def test_a_part_may_be_measured_now(monkeypatch, capsys):
    part = load_part("74LS04")
    asked = []

    def measure(part, arguments):
        asked.append((part.name, arguments.part, arguments.port))
        return paper_chip.record(part, load_file(LIBRARY / "04.toml"), stuck={"3Y": False})
    monkeypatch.setattr("sagbench.cli.sweep.measure", measure)
    assert main(["parts", "doubt", "SN74LS04N", "--port", "/dev/ttyACM1"]) == 1
    assert asked == [(part.name, "SN74LS04N", "/dev/ttyACM1")] and "The chip is suspect" in capsys.readouterr().out


DIP14 = {p: p if p <= 7 else p + 10 for p in range(1, 15)}
GATES_00 = {3: (1, 2), 6: (4, 5), 8: (9, 10), 11: (12, 13)}


def swept(tmp_path, part, answers):
    """The record of a real sweep, on the ideal fixture, of a chip in four gates; written to a file."""
    device = IdealDevice(IdealChip(DIP14, 14, 7, answers, icc=lambda levels: 0.004))
    device.info.wiring_id = load_fixture("bench24").wiring_id
    (tmp_path / "swept.json").write_text(to_json(sweep(device, part)))
    return str(tmp_path / "swept.json")


def nands(levels):
    """A 7400's truth table, from any data book."""
    return {y: "L" if levels[a] and levels[b] else "H" for y, (a, b) in GATES_00.items()}


def doubt_of(words, capsys):
    code = main(["parts", "doubt", *words, "--json"])
    return code, json.loads(capsys.readouterr().out)


def test_a_sound_chip_that_was_really_swept(tmp_path, capsys):
    code, told = doubt_of([swept(tmp_path, load_part("7400"), nands)], capsys)
    assert (code, told["leaning"], told["checks"]) == (0, "agrees", 32)


def test_a_dead_gate_that_was_really_swept(tmp_path, capsys):
    code, told = doubt_of([swept(tmp_path, load_part("7400"), lambda levels: nands(levels) | {8: "H"})], capsys)
    assert (code, told["leaning"]) == (1, "chip") and "3Y stuck high inside the chip" in [c["sentence"] for c in told["causes"]]


def test_a_sound_chip_swept_with_a_wrong_definition(tmp_path, capsys):
    (tmp_path / "00.toml").write_text((LIBRARY / "00.toml").read_text().replace("!({}A & {}B)", "!({}A | {}B)"))
    record = swept(tmp_path, load_part("7400", user_dirs=[tmp_path]), nands)
    code, told = doubt_of([record, "--parts-dir", str(tmp_path)], capsys)
    assert (code, told["leaning"], told["own"]) == (1, "definition", True)
    assert [c["sentence"] for c in told["causes"]] == ["line 13 would have to read `{}Y = !({}A & {}B)`"]
    assert main(["report", record]) == 1                 # and the report says whose definition it was
    unwrapped = str.maketrans("", "", " \n-")   # a long path is broken over lines, at hyphens too, and cut at the line's end
    assert f"defined by {str(tmp_path)[:60]}".translate(unwrapped) in capsys.readouterr().out.translate(unwrapped)


def test_a_record_may_come_from_standard_input(tmp_path, capsys, monkeypatch):
    monkeypatch.setattr("sys.stdin", io.StringIO(to_json(paper_chip.record(load_part("74LS00"), load_file(LIBRARY / "00.toml")))))
    assert main(["parts", "doubt", "-"]) == 0


def test_a_record_of_another_definition_is_refused(tmp_path, capsys):
    part = load_part("74LS04")
    made = paper_chip.record(part, load_file(LIBRARY / "04.toml"), stuck={"1Y": True})
    (tmp_path / "r.json").write_text(to_json(made))
    text = (LIBRARY / "04.toml").read_text().replace("sources", "idle = \"1A=1\"\nprogram = [\"1A=0\", \"1A=1\"]\nsources", 1)
    (tmp_path / "04.toml").write_text(text)
    assert main(["parts", "doubt", str(tmp_path / "r.json"), "--parts-dir", str(tmp_path)]) == 2
    assert "measure the chip again" in capsys.readouterr().err


def test_a_record_without_a_logic_test_is_refused(tmp_path, capsys):
    from host.report import examples
    (tmp_path / "r.json").write_text(to_json(examples.not_seated()))
    assert main(["parts", "doubt", str(tmp_path / "r.json")]) == 2
    assert "has no logic test" in capsys.readouterr().err


@pytest.mark.parametrize("text, some", [
    ("{}Y = !({}A & {}B)", {"{}Y = {}A & {}B", "{}Y = !({}A | {}B)", "{}Y = !{}A", "{}Y = !(!{}A & {}B)"}),
    ("q := D on rising CLK, clear !CLR, set !PRE", {"q := D on falling CLK, clear !CLR, set !PRE", "q := !D on rising CLK, clear !CLR, set !PRE",
                                                    "q := D on rising CLK, clear !PRE, set !CLR"}),
    ("Y = A when !G", {"Y = A when G", "Y = !A when !G"}),
])
def test_the_slips_of_a_statement(tmp_path, text, some):
    (tmp_path / "x.toml").write_text(f'[[block]]\nlogic = ["{text}"]\n')
    [line] = lines(tmp_path / "x.toml", "LS")
    made = changes(line)
    assert not any("!!" in other for other in made)
    assert some <= set(made) and text not in made and len(made) == len(set(made))
    assert line.number == 2


@pytest.mark.parametrize("path", sorted(LIBRARY.glob("*.toml"))[::7], ids=lambda p: p.stem)
def test_statements_written_again_mean_the_same(path):
    """Held against the parser: text -> statement -> text -> statement is the same tree but for columns."""
    for block in load_file(path).blocks:
        for said in block.statements:
            again = equations.parse(statement(said))
            assert _tree(again) == _tree(said)


def _tree(said):
    def plain(expr):
        if isinstance(expr, equations.Name):
            return expr.text
        return (expr.sign, *map(plain, expr.args)) if isinstance(expr, equations.Op) else expr and expr.value
    return {k: plain(v) if not isinstance(v, str) else v for k, v in vars(said).items()}


def test_a_number_with_another_logic_in_each_family():
    """The 7451 is two 2-wide 2-input gates, the 74LS51 has one of three inputs (data books, from memory)."""
    wide, plain = lines(LIBRARY / "51.toml", "LS"), lines(LIBRARY / "51.toml", "74")
    assert wide[0].targets() == ("1Y",) and "{" not in wide[0].text and wide[0].text.count("&") == 4
    assert plain[0].number != wide[0].number and plain[0].text.count("&") == 2
    assert {t for line in wide for t in line.targets()} == {t for line in plain for t in line.targets()}


def test_a_file_that_is_like_another_names_the_line_of_the_other(tmp_path):
    (tmp_path / "99.toml").write_text('function = "99"\nlike = "00"\ntitle = "another quad NAND"\n[family.LS]\n')
    [line] = lines(tmp_path / "99.toml", "LS")
    assert line.where == "line 13 of 00.toml" and line.targets() == ("1Y", "2Y", "3Y", "4Y")


def test_gates_of_their_own_and_gates_that_hang_together():
    inverter, counter = load_file(LIBRARY / "04.toml"), load_file(LIBRARY / "163.toml")
    [gate] = lines(LIBRARY / "04.toml", "LS")
    bit = lines(LIBRARY / "163.toml", "LS")[-1]
    assert independent(inverter, gate) and not independent(counter, bit)
    assert read_by(inverter, "1Y") == {"1Y", "1A"}


def test_the_paper_chip_is_the_definition_it_was_made_of():
    """No fault: every answer right, checked against a machine of its own."""
    part = load_part("74LS74")
    assert paper_chip.record(part, load_file(LIBRARY / "74.toml")).logic[0].misses == ()
    machine = Machine(Network(load_file(LIBRARY / "74.toml")))
    machine.set({"1D": True, "1CLK": False, "1PRE": False, "1CLR": True})
    assert machine.expect("1Q").value == "H"


def test_outputs_that_nothing_drives_put_the_pinout_in_doubt_not_the_chip_alone(tmp_path, capsys):
    """A 7402 taken for a 7400: what should be outputs are inputs and float, near 1.3 V with TTL (common practice)."""
    part = load_part("74LS00")
    outputs = [pin.name for pin in part.outputs]
    floating = paper_chip.record(part, load_file(LIBRARY / "00.toml"), dead={name: 1.25 + 0.01 * i for i, name in enumerate(outputs)})
    path = tmp_path / "chip.json"
    path.write_text(to_json(floating))
    assert main(["parts", "doubt", str(path), "--json"]) == 1
    told = json.loads(capsys.readouterr().out)
    assert told["leaning"] == "either" and "wrong pinout" in told["summary"]
    assert all(output["pattern"].startswith("stays between") for output in told["outputs"])
    path.write_text(to_json(paper_chip.record(part, load_file(LIBRARY / "00.toml"), dead={"2Y": 1.3})))
    assert main(["parts", "doubt", str(path), "--json"]) == 1
    assert json.loads(capsys.readouterr().out)["leaning"] == "chip"     # its sisters drive


def test_a_part_in_the_socket_is_measured_and_doubted():
    """The demo's 7400 with a dead gate, in the virtual fixture: nothing is said of a record."""
    with rig.virtual_port(rig.ROOT / "tests/virtual_fixture/chips/demo/dead_gate_7400.toml", 3, "--fast") as port:
        done = rig.sagbench("parts", "doubt", "7400", "--port", port)
    assert done.returncode == 1 and not done.stderr, done.stderr
    assert "defined by the library's 00.toml" in done.stdout and "What would explain every answer" in done.stdout
