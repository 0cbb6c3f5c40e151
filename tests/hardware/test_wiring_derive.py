"""Derived tables against the wiring file, hand arithmetic and the board's published pin table.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import ctypes
import json
import subprocess
from pathlib import Path

import pytest

from hardware import derive, tables
from hardware.wiring import load
from protocol import emit

ROOT = Path(__file__).resolve().parents[2]
FIXTURE = load()


class Line(ctypes.Structure):
    """struct wiring_line."""

    _fields_ = [("port", ctypes.c_uint8), ("mask", ctypes.c_uint8), ("group", ctypes.c_uint8)]


class Pair(ctypes.Structure):
    """struct wiring_sense."""

    _fields_ = [("mux", ctypes.c_uint8), ("channel", ctypes.c_uint8)]


class Switch(ctypes.Structure):
    """struct wiring_switch."""

    _fields_ = [("position", ctypes.c_uint8), ("reg", ctypes.c_uint8), ("mask", ctypes.c_uint8)]


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> ctypes.CDLL:
    """wiring.c as the firmware gets it."""
    out = tmp_path_factory.mktemp("gen") / "libwiring.so"
    subprocess.run(["gcc", "-std=gnu11", "-Wall", "-Wextra", "-Wconversion", "-Werror", "-shared", "-fPIC", "-o", out,
                    ROOT / "firmware/gen/wiring.c"], check=True)
    return ctypes.CDLL(str(out))


def table(library: ctypes.CDLL, kind: type, count: int, name: str) -> list:
    return list((kind * count).in_dll(library, name))


def test_files_are_current() -> None:
    assert emit.stale(derive.files()) == []


def board_pins() -> dict[str, str]:
    """Board pin -> port pin of the ATmega2560 boards in this form. Source: the board's published pin table, from memory."""
    pins = dict(zip([f"D{i}" for i in range(22)], "E0 E1 E4 E5 G5 E3 H3 H4 H5 H6 B4 B5 B6 B7 J1 J0 H1 H0 D3 D2 D1 D0".split(),
                    strict=True))
    pins |= {f"D{22 + i}": f"A{i}" for i in range(8)}
    pins |= {f"D{30 + i}": f"C{7 - i}" for i in range(8)}
    pins |= dict(zip([f"D{i}" for i in range(38, 42)], "D7 G2 G1 G0".split(), strict=True))
    pins |= {f"D{42 + i}": f"L{7 - i}" for i in range(8)}
    pins |= {f"D{50 + i}": f"B{3 - i}" for i in range(4)}
    pins |= {f"A{i}": f"F{i}" for i in range(8)} | {f"A{8 + i}": f"K{i}" for i in range(8)}
    return {pin: f"P{port}" for pin, port in pins.items()}


def test_controller_pins_are_those_of_the_board() -> None:
    assert {name: wire["port"] for name, wire in FIXTURE["controller"]["wires"].items()} == board_pins()


def test_lines_in_c(library: ctypes.CDLL) -> None:
    wires = {w["net"]: w["port"] for w in FIXTURE["controller"]["wires"].values()}
    for name, letter in (("wiring_strong", "S"), ("wiring_medium", "M")):
        for k, line in enumerate(table(library, Line, 24, name), 1):
            port = wires[f"{letter}{k}"]
            assert "ABCDEFGHJKL"[line.port] == port[1] and line.mask == 1 << int(port[2])
            assert port in FIXTURE["port_group"][line.group]["ports"]
    # By hand from the file: S1 is A15, PK7, group G5; M24 is D22, PA0, group G1.
    strong, medium = table(library, Line, 24, "wiring_strong")[0], table(library, Line, 24, "wiring_medium")[23]
    assert (strong.port, strong.mask, strong.group) == (9, 0x80, 4)
    assert (medium.port, medium.mask, medium.group) == (0, 0x01, 0)


def test_masks_hold_every_line_once(library: ctypes.CDLL) -> None:
    strong = table(library, ctypes.c_uint8, 11, "wiring_strong_mask")
    medium = table(library, ctypes.c_uint8, 11, "wiring_medium_mask")
    assert sum(m.bit_count() for m in strong) == sum(m.bit_count() for m in medium) == 24
    assert not any(s & m for s, m in zip(strong, medium, strict=True))


def test_sense_and_switches_in_c(library: ctypes.CDLL) -> None:
    for k, sense in enumerate(table(library, Pair, 24, "wiring_sense"), 1):
        assert FIXTURE.part(f"U{sense.mux + 1}")["channels"][sense.channel] == f"Z{k}"
    for name, letter, count in (("wiring_supply", "P", 4), ("wiring_ground", "N", 7)):
        for switch in table(library, Switch, count, name):
            register = FIXTURE.part(f"U{5 + switch.reg}")
            assert register["outputs"][switch.mask.bit_length() - 1] == f"{letter}{switch.position}"
    # Supply switches are PNP: off is HIGH. P4 P1 P5 P24 are QA QB QG QH of U7, the third register.
    assert table(library, ctypes.c_uint8, 3, "wiring_registers_off") == [0, 0, 0xC3]


def test_addresses_in_c(library: ctypes.CDLL) -> None:
    """U5: QA QB QC address the sense multiplexers, QD QE QF the load selector."""
    assert table(library, ctypes.c_uint8, 8, "wiring_sense_bits") == list(range(8))
    assert table(library, ctypes.c_uint8, 8, "wiring_load_bits") == [8 * i for i in range(8)]


def test_worst_currents_worked_by_hand() -> None:
    """5.25 V over 270 - 1 % + 20 = 287.3 ohm; over 560 - 1 % + 20 = 574.4; over 220 - 1 % + 20 + 2 x 50 = 337.8."""
    assert tables.short_ma(FIXTURE, "S", 1) == pytest.approx(18.273, abs=0.001)
    assert tables.short_ma(FIXTURE, "M", 24) == pytest.approx(9.140, abs=0.001)
    assert tables.load_short_ma(FIXTURE, 5) == pytest.approx(15.542, abs=0.001)
    assert tables.load_short_ma(FIXTURE, 0) == 0.0
    text = (ROOT / "firmware/gen/wiring.h").read_text()
    assert "WIRING_STRONG_SHORT 183 " in text and "WIRING_MEDIUM_SHORT 92 " in text


def test_codes_worked_by_hand() -> None:
    """250 mV of 5 V are 51.2 codes; 4 mA through 287.3 ohm are 1.149 V, at 5.25 V 224.1 codes; 18 mV/mA; 22/32 of 1024."""
    assert tables.rail_short_code(FIXTURE) == 52
    assert tables.verify_codes(FIXTURE) == (224, 800)
    assert tables.icc_gain(FIXTURE) == pytest.approx(18.0)
    assert tables.trip_ratio(FIXTURE) * 1024 == pytest.approx(704.0, abs=0.1)
    low, high = tables.short_codes(FIXTURE)
    # S: 18.27 mA x 1.5 ohm + 25 mV = 52.4 mV = 10.2 codes at 5.25 V; to the supply 2.51 ohm and 40 mV: 85.9 mV = 16.7.
    assert (low[2], high[2]) == (10, 1024 - 16)
    assert low[:2] == [-1, -1] and high[:2] == [1024, 1024]


def test_settling_worked_by_hand() -> None:
    """8 time constants of (8200 + 2 x 160 + 40) ohm and 159 pF are 10.9 us; of 100 kohm, 127.7 us."""
    assert tables.settle_us(FIXTURE)[1] == 11
    assert tables.settle_us(FIXTURE)[2] == 128


def test_the_host_gets_what_the_firmware_has() -> None:
    model = json.loads((ROOT / "host/sagbench/fixtures/bench24.json").read_text())
    assert model["wiring_id"] == FIXTURE.id
    assert f"WIRING_ID 0x{FIXTURE.id:08X}UL" in (ROOT / "firmware/gen/wiring.h").read_text()
    assert model["resistor"]["strong_drive"] == {"ohm": 270, "tolerance": 0.01}
    assert model["budget_ma"]["strong_group"][0] == 4 and model["sense_mux"][23] == 2


def test_comments_do_not_change_the_id_but_values_do(tmp_path: Path) -> None:
    text = (ROOT / "hardware/wiring.toml").read_text()
    (tmp_path / "a.toml").write_text("# another comment\n" + text)
    (tmp_path / "b.toml").write_text(text.replace("ohm = 270", "ohm = 271"))
    assert load(tmp_path / "a.toml").id == FIXTURE.id != load(tmp_path / "b.toml").id
