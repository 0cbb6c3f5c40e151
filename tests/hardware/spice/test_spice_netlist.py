"""The circuit that is given to ngspice is that of the wiring file, and ngspice is asked and read correctly.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import math
import re

import pytest

from hardware.spice.bench import Bench
from hardware.spice.corner import Corner
from hardware.spice.netlist import Setup, netlist
from hardware.spice.simulate import SpiceError, crossing, run
from hardware.wiring import load

FIXTURE = load()
CIRCUIT = netlist(FIXTURE)
LINES = {line.split()[0]: line for line in CIRCUIT.splitlines() if not line.startswith((".", "*"))}
BARE = ("button", "zif_socket")        # they bring nets together or are open


def nets_of(part: dict) -> set[str]:
    """Nets of a part of the wiring file, without those on nothing."""
    found = {*part.get("pins", {}).values(), *part.get("channels", []), *part.get("outputs", []), part.get("common", "NC")}
    return {"0" if net == "GND" else net for net in found} - {"NC"}


def test_every_part_is_there_on_its_nets() -> None:
    for part in FIXTURE["part"]:
        if part["kind"] in BARE:
            continue
        ref = re.compile(rf"[XVR]?{part['ref']}(|[A-D]|_\w+)$")
        on = {word for name, line in LINES.items() if ref.match(name) for word in line.split()[1:]}
        assert nets_of(part) <= on, part["ref"]


def test_values_are_those_of_the_wiring_file_and_of_its_ends() -> None:
    high = {line.split()[0]: line for line in netlist(FIXTURE, corner=Corner("x", {"resistor": "max", "C304": "min"})).splitlines()}
    for part in FIXTURE["part"]:
        if part["kind"] == "resistor":
            assert float(LINES[part["ref"]].split()[3]) == pytest.approx(part["ohm"])
            assert float(high[part["ref"]].split()[3]) == pytest.approx(part["ohm"] * (1 + part["tolerance"]))
    assert high["C304"].split()[3] == "900n" and high["C303"].split()[3] == "100n"


def test_a_setup_sets_switches_and_addresses() -> None:
    """Position 11 is channel 2 of U2: address A 0, B 1, C 0, INH_B low; the load is channel 5."""
    text = netlist(FIXTURE, Setup(supply=[24], ground=[7], sense=11, load=5))
    level = dict(re.findall(r"^V(U\d_q\d) \S+ 0 (\d)$", text, re.M))
    assert [level[f"U5_q{i}"] for i in range(6)] == ["0", "1", "0", "1", "0", "1"]
    assert [level[f"U7_q{i}"] for i in (7, 0, 6, 1)] == ["0", "1", "1", "1"]          # P24 on; P4, P5, P1 off
    assert [level[f"U6_q{i}"] for i in (7, 1, 2)] == ["1", "0", "0"]                  # N7 on; N8, N10 off
    assert [re.search(rf"^Vp_INH_{x} p_INH_{x} (\S+) 0$", text, re.M)[1] for x in "ABC"] == ["V5", "0", "V5"]  # type: ignore[index]


def test_ngspice_by_hand() -> None:
    """3 V over 1k and 2k; 1k into 1 uF is at 1 - 1/e after a millisecond."""
    divider = "* divider\nV1 a 0 3\nR1 a b 1k\nR2 b 0 2k\n"
    assert run(divider, "op", ["v(b)", "i(v1)"])["v(b)"] == [pytest.approx(2.0)]
    swept = run(divider, "dc V1 0 6 3", ["v(b)"])
    assert swept["scale"] == pytest.approx([0, 3, 6]) and swept["v(b)"] == pytest.approx([0, 2, 4], abs=1e-9)
    charge = run("* charge\nV1 a 0 1\nR1 a b 1k\nC1 b 0 1u\n.ic v(b)=0\n", "tran 5u 2m", ["v(b)"])
    assert crossing(charge["scale"], charge["v(b)"], 1 - math.exp(-1), rising=True) == pytest.approx(1e-3, rel=2e-3)


def test_crossing() -> None:
    assert crossing([0, 1, 2, 3], [0, 2, 0, 2], 1, rising=True) == 0.5
    assert crossing([0, 1, 2, 3], [0, 2, 0, 2], 1, rising=True, after=1) == 2.5
    assert crossing([0, 1, 2, 3], [0, 2, 0, 2], 1, rising=False) == 1.5
    assert crossing([0, 1], [0, 1], 2, rising=True) == math.inf


def test_what_ngspice_cannot_do_is_said() -> None:
    with pytest.raises(SpiceError, match="gave no result for `op`"):
        run("* no such model\nV1 a 0 1\nQ1 a b 0 NOTHING\n", "op", ["v(a)"])
    with pytest.raises(SpiceError, match="gave no result"):
        run("* no such vector\nV1 a 0 1\nR1 a 0 1\n", "op", ["v(nowhere)"])


def test_a_multiplexer_ties_one_position_to_k_and_no_other() -> None:
    """Position 11 held at 2 V is seen on K; the neighbour at 1 V is not.  Inhibited, K is nowhere."""
    socket = ["Va Z11 0 2", "Vb Z12 0 1", "Rk K 0 10meg"]
    bench = Bench()
    assert bench.at_rest(Setup(sense=11, socket=socket), ["v(K)"])["v(K)"] == pytest.approx(2.0, abs=1e-3)
    assert bench.at_rest(Setup(sense=12, socket=socket), ["v(K)"])["v(K)"] == pytest.approx(1.0, abs=1e-3)
    assert bench.at_rest(Setup(sense=0, socket=socket), ["v(K)"])["v(K)"] == pytest.approx(0.0, abs=1e-2)
