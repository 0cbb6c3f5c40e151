"""Every verb's help has an example; every example is understood; every one that needs no fixture is carried out.

SPDX-License-Identifier: MIT
"""

import argparse
import shlex

import pytest
import rig
from host.report import examples
from inprocess import BOOT_S, part

from sagbench.cli import completion
from sagbench.cli.main import OWN, main
from sagbench.device import Device
from sagbench.log.database import Facts, open_log
from sagbench.report.codec import to_json
from sagbench.sweep import sweep
from virtual_fixture.inproc import Fixture

NEEDS_A_FIXTURE = ("sweep", "identify", "learn", "lot", "hold", "soak", "fixture")


def leaves(parser):
    """The parsers of all verbs that have none below them."""
    below = {id(p): p for a in parser._actions if isinstance(a, argparse._SubParsersAction) for p in a.choices.values()}
    if not below:
        yield parser
    for one in below.values():
        yield from leaves(one)


def examples_of(parser):
    """Command lines in a help's epilog: after "example:" or in a line of their own; "; " between two."""
    for line in (parser.epilog or "").splitlines():
        line = line.strip().removeprefix("example: ")
        line = line.split("   ")[0].split(" > ")[0]              # remarks, and where the output goes
        for command in line.split("; "):
            _, _, command = command.rpartition("| ")
            if command.startswith("sagbench "):
                yield tuple(shlex.split(command)[1:])


PARSERS = {parser.prog: parser for parser in leaves(completion.whole())}
ALL = {prog: list(examples_of(parser)) for prog, parser in PARSERS.items()}
WITHOUT = [words for lines in ALL.values() for words in lines
           if words[0] not in NEEDS_A_FIXTURE and "--flash" not in words or words[:2] == ("lot", "--summary")]


def test_every_verb_has_an_example_of_itself():
    assert len(PARSERS) >= 25 and {prog.split()[1] for prog in PARSERS} == {*OWN, "sweep", "report"}
    for prog, lines in ALL.items():
        own = tuple(prog.split()[1:])
        assert any(words[:len(own)] == own for words in lines), f"{prog} --help shows no example"


@pytest.mark.parametrize("words", sorted({words for lines in ALL.values() for words in lines}), ids=" ".join)
def test_every_example_is_understood(words):
    completion.whole().parse_args(list(words))


@pytest.fixture
def bench(tmp_path, monkeypatch):
    """What the examples speak of: a record, a log of three boxes, a part file of one's own."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("SAGBENCH_DATA", str(tmp_path / "data"))
    monkeypatch.setenv("SAGBENCH_PARTS", str(tmp_path / "parts"))
    with Fixture(7, rig.ROOT / "tests/virtual_fixture/chips/demo/tired_74ls00.toml") as fixture:
        fixture.run(BOOT_S)
        with Device(fixture.line) as device:
            (tmp_path / "chip.json").write_text(to_json(sweep(device, part("74LS00"))))
    with open_log() as log:
        for lot in [log.begin_lot(name) for name in ("one", "two", "three")]:
            for n in range(5):
                log.add(examples.weak_gate() if n % 2 else examples.sound_inverter(), Facts(board="CPU", position=f"U{13 + n}"), lot=lot)
    return tmp_path


def test_every_example_that_needs_no_fixture_does_what_it_says(bench, capsys):
    assert len(WITHOUT) > 22
    expected = {"report": 1, "log show": 1}                         # these chips are not sound
    for words in sorted(WITHOUT, key=lambda words: "check" in words):           # a part file is begun before it is checked
        given = [word.replace("~", str(bench)) for word in words]
        code = main(given)
        told = capsys.readouterr()
        name = " ".join(words[:2]) if words[0] in ("log", "parts") else words[0]
        if words[:2] == ("parts", "check"):
            assert code in (0, 2) and "1034" in told.out + told.err              # a file just begun has blanks to fill in
            continue
        assert code == expected.get(name, 0), f"{words}: {code}\n{told.out[-500:]}\n{told.err[-500:]}"
        for option in ("--html", "--save", "--csv"):
            if option in words:
                assert (bench / words[words.index(option) + 1]).stat().st_size > 500, words
