"""Build one fixture from the wiring file: find what is wired where, draw what each part measures (draw.py).

`build(seed)` gives a Specimen for the C network.  Every part of the wiring file must be
understood here: `build` raises WiringError for one that it finds no place for, so the
network cannot silently lack a part.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import math
import zlib
from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import Any

from hardware.wiring import PATH, Fixture, WiringError, load

from .bridges import add_bridges, refuse_left
from .defects import OPEN_OHM, STRAY_F, DefectError, Defects
from .draw import Draw
from .layout import Specimen, enumeration

PORTS = "ABCDEFGHJKL"
NETS = enumeration("pin_net")
LOADS = enumeration("load_kind")
FAULTS = enumeration("fault")
# What the wiring file has no figure for; from memory of data books, or common practice.
BASE_V = 0.75            # base of a saturated small transistor at 8 mA
SMALL_BASE_V = 0.58      # the same just before it lets go (0.26 mA of collector current)
BASE_OHM = 900           # that junction's own resistance, mean over a discharge (fitted to ngspice)
DIODE_V = 0.40           # 1N4148 at the end of a charging pulse, some microamperes
LED_V = 1.9
MUX_PEAK = 0.15          # on-resistance at half the supply, above that at the rails
HEADROOM_V = 0.1         # output transistor of the current amplifier
TRIP_DELAY_S = 5e-6      # op-amp slewing from rail to the trip transistor's base
AIR_S = 1e-10            # what any net leaks to either rail
SHORTED_OHM = 0.5        # collector to emitter of a transistor that has burnt through
BOARD_A = (0.045, 0.075)  # controller board, at rest
USB_OHM = (0.1, 0.4)     # cable, fuse and connector
# Data sheet: VIL <= 0.3 VCC, VIH >= 0.6 VCC; the hysteresis of its typical curves.
PIN_THRESHOLD = (0.43, 0.50)
PIN_HYSTERESIS_V = 0.4
# Groups of kinds that carry no signal the network has to know.
WITHOUT_EFFECT = {"button", "zif_socket", "led", "decoupling"}


class Builder:
    """Fills one Specimen from the wiring file."""

    def __init__(self, fixture: Fixture, draw: Draw) -> None:
        self.fixture, self.draw, self.out = fixture, draw, Specimen()
        self.kind = fixture["kind"]
        self.between_nets: dict[tuple[str, frozenset[str]], list[dict[str, Any]]] = {}
        for part in fixture["part"]:
            nets = frozenset(part.get("pins", {}).values())
            self.between_nets.setdefault((part["kind"], nets), []).append(part)
        self.used: set[str] = set()
        self.pin_of: dict[str, int] = {}
        self.defects = draw.defects

    # ---- finding parts by what they join, never by designator

    def joining(self, a: str, b: str, kind: str = "resistor") -> dict[str, Any]:
        """The one two-terminal part between two nets."""
        found = self.between_nets.get((kind, frozenset((a, b))), [])
        if not found:
            raise WiringError(f"no {kind} joins {a} and {b}; the virtual fixture needs one there")
        self.used.update(p["ref"] for p in found)
        return dict(found[0])

    def ohm(self, a: str, b: str) -> float:
        return self.draw.part(self.joining(a, b), "ohm")

    def farad(self, a: str, b: str) -> float:
        """Sum of all capacitors between two nets."""
        self.joining(a, b, "capacitor")
        return sum(self.draw.part(p, "nf", 1e-9) for p in self.between_nets["capacitor", frozenset((a, b))])

    def one(self, kind: str, **pins: str) -> dict[str, Any]:
        """The one part of a kind with these nets on these terminals."""
        found = [p for p in self.fixture["part"] if p["kind"] == kind
                 and all(p["pins"].get(terminal) == net for terminal, net in pins.items())]
        if len(found) != 1:
            raise WiringError(f"{len(found)} parts of kind {kind} with {pins}; the virtual fixture needs one")
        self.used.add(found[0]["ref"])
        return dict(found[0])

    # ---- the rooms of the specimen

    def controller(self) -> None:
        out, controller, draw = self.out, self.fixture["controller"], self.draw
        simple = {"K": "NET_K", "ICC": "NET_ICC", "VDAC": "NET_VDAC", "VREF": "NET_VREF", "LD": "NET_LD",
                  "PWM": "NET_PWM", "PUMP": "NET_PUMP", "OE_N": "NET_OE_N", "BUTTON": "NET_BUTTON",
                  "LAMP": "NET_LAMP", "LATCH": "NET_LATCH", "SER_OUT": "NET_SER_OUT", "SER_CLK": "NET_SER_CLK",
                  "SER_BACK": "NET_SER_BACK", "RXD": "NET_RXD", "TXD": "NET_TXD"}
        positions = {f"{letter}{k}": (f"NET_{word}", k) for letter, word in (("S", "STRONG"), ("M", "MEDIUM"))
                     for k in self.fixture.positions}
        inhibit = {p["pins"]["INH"]: n for n, p in enumerate(self.sense_muxes())}
        for pin in range(len(out.pin_net)):
            out.pin_net[pin], out.pin_group[pin] = NETS["NET_NONE"], -1
        for name, wire in controller["wires"].items():
            pin, net = pin_number(wire["port"]), wire["net"]
            if not net:
                continue
            self.pin_of[net] = pin
            self.stuck(name, pin, net)
            if net in simple:
                out.pin_net[pin] = NETS[simple[net]]
            elif net in positions:
                out.pin_net[pin], out.pin_index[pin] = NETS[positions[net][0]], positions[net][1]
            elif net in inhibit:
                out.pin_net[pin], out.pin_index[pin] = NETS["NET_INH"], inhibit[net]
                self.joining(net, "V5")
            else:
                raise WiringError(f"controller pin {wire['port']} is wired to {net}, which the virtual fixture "
                                  "does not know; teach tests/virtual_fixture/specimen.py")
        strap = controller["strap"]
        if strap["to"] == "GND":
            out.pin_fault[pin_number(controller["wires"][strap["pin"]]["port"])] = FAULTS["FAULT_LOW"]
        for number, group in enumerate(self.fixture["port_group"]):
            out.group_limit_a[number] = group["limit_ma"] * 1e-3
            for port in group["ports"]:
                out.pin_group[pin_number(port)] = number
        for pin in range(len(out.pin_net)):
            name = f"P{PORTS[pin // 8]}{pin % 8}"
            out.driver_high_ohm[pin] = draw.span(f"{name}.driver_high_ohm", controller["driver_ohm"])
            out.driver_low_ohm[pin] = draw.span(f"{name}.driver_low_ohm", controller["driver_ohm"])
            out.pull_up_ohm[pin] = draw.span(f"{name}.pull_up_ohm", controller["pull_up_kohm"], 1e3)
            out.pin_threshold[pin] = draw.between(f"{name}.threshold", *PIN_THRESHOLD)
        out.pin_hysteresis_v = PIN_HYSTERESIS_V
        out.pin_limit_a = controller["pin_limit_ma"] * 1e-3
        out.total_limit_a = controller["total_limit_ma"] * 1e-3
        out.pump_pin, out.pwm_pin = self.pin_of["PUMP"], self.pin_of["PWM"]
        out.latch_pin, out.ld_pin = self.pin_of["LATCH"], self.pin_of["LD"]
        out.ser_out_pin, out.ser_clk_pin = self.pin_of["SER_OUT"], self.pin_of["SER_CLK"]
        out.ser_back_pin = self.pin_of["SER_BACK"]

    def stuck(self, name: str, pin: int, net: str) -> None:
        """A controller pin that does not follow its registers."""
        fault = self.defects.word(name, "low", "high", "open")
        if fault and net in ("RXD", "TXD"):
            raise DefectError(f"defect {name}={fault}: {name} is the serial line, without which nothing can be tested")
        self.out.pin_fault[pin] = FAULTS[f"FAULT_{fault.upper()}"] if fault else 0

    def sense_muxes(self) -> list[dict[str, Any]]:
        return [p for p in self.fixture["part"] if p["kind"] == "hc4051" and p["pins"]["INH"] != "GND"]

    def positions(self) -> None:
        out, draw = self.out, self.draw
        rail = self.fixture["supply"]["nominal_v"]
        for k in range(len(out.strong_pin)):        # nothing but air, unless the build has the position
            out.strong_pin[k] = out.medium_pin[k] = -1
            out.strong_ohm[k] = out.medium_ohm[k] = OPEN_OHM
            out.leak_up_s[k] = out.leak_down_s[k] = AIR_S
            out.position_f[k] = STRAY_F
        for k in self.fixture.positions:
            out.strong_pin[k], out.medium_pin[k] = self.pin_of[f"S{k}"], self.pin_of[f"M{k}"]
            out.strong_ohm[k] = self.ohm(f"S{k}", f"Z{k}")
            out.medium_ohm[k] = self.ohm(f"M{k}", f"Z{k}")
            # one multiplexer channel and two controller pins leak to either rail
            for way, field in (("up", out.leak_up_s), ("down", out.leak_down_s)):
                channel = draw.leak(f"Z{k}.mux_leak_{way}_a", self.kind["hc4051"]["leak_off_ua"]["max"] * 1e-6)
                pins = draw.leak(f"Z{k}.pin_leak_{way}_a", self.fixture["controller"]["leak_ua"]["max"] * 0.05e-6)
                field[k] = (channel + 2 * pins) / rail + AIR_S
            out.position_f[k] = draw.stray(f"Z{k}", self.kind["board"]["position_pf"])

    def selectors(self) -> None:
        out, draw, kind = self.out, self.draw, self.kind["hc4051"]
        registers = {net: p["chain"] * 8 - 8 + n for p in self.fixture["part"] if p["kind"] == "hc595"
                     for n, net in enumerate(p["outputs"]) if net != "NC"}
        self.registers = registers

        def channels(mux: dict[str, Any]) -> list[float]:
            self.used.add(mux["ref"])
            match = kind["ron_match"]
            base = draw.span(f"{mux['ref']}.ron_ohm", kind["ron_ohm"])
            low, high = kind["ron_ohm"]["min"], kind["ron_ohm"]["max"]
            sound = [min(high, max(low, base * draw.between(f"{mux['ref']}.{n}.match", 1 - match / 2, 1 + match / 2)))
                     for n in range(8)]
            if self.defects.word(mux["ref"], "dead"):
                sound = [OPEN_OHM] * 8
            return [own if (ohm := self.defects.ohms(f"{mux['ref']}.{n}")) is None else ohm for n, own in enumerate(sound)]

        for m in range(len(out.inh_pin)):
            out.inh_pin[m] = -1
        for m, mux in enumerate(self.sense_muxes()):
            if mux["common"] != "K":
                raise WiringError(f"part {mux['ref']}: common is {mux['common']}, not K")
            out.inh_pin[m] = self.pin_of[mux["pins"]["INH"]]
            for n, (net, ron) in enumerate(zip(mux["channels"], channels(mux), strict=True)):
                out.sense_position[m][n], out.sense_ron_ohm[m][n] = int(net.removeprefix("Z")), ron
        selector = self.one("hc4051", INH="GND")
        for n, letter in enumerate("ABC"):
            out.sense_bit[n] = registers[self.sense_muxes()[0]["pins"][letter]]
            out.load_bit[n] = registers[selector["pins"][letter]]
        for n, (net, ron) in enumerate(zip(selector["channels"], channels(selector), strict=True)):
            out.load_ron_ohm[n] = ron
            self.load_channel(n, net)
        out.mux_peak, out.mux_limit_a = MUX_PEAK, kind["switch_limit_ma"] * 1e-3
        rail = self.fixture["supply"]["nominal_v"]
        leak = kind["leak_common_ua"]["max"] * 1e-6
        out.k_leak_up_s = draw.leak("K.leak_up_a", leak) / rail + AIR_S
        out.k_leak_down_s = draw.leak("K.leak_down_a", leak) / rail + AIR_S
        out.k_f = draw.stray("K", self.kind["board"]["node_k_pf"])

    def load_channel(self, n: int, net: str) -> None:
        out = self.out
        if net in ("NC", "VREF", "GND"):
            out.load_kind[n] = LOADS[{"NC": "LOAD_NONE", "VREF": "LOAD_VREF", "GND": "LOAD_GND"}[net]]
            return
        part = next(p for p in self.fixture["part"] if p["kind"] == "resistor" and net in p["pins"].values())
        other = next(v for v in part["pins"].values() if v != net)
        out.load_kind[n] = LOADS[{"LD": "LOAD_LD", "VDAC": "LOAD_VDAC"}[other]]
        out.load_ohm[n] = self.ohm(net, other)

    def level(self) -> None:
        out, opamp = self.out, self.kind["mcp6004"]
        out.filter_1_ohm, out.filter_1_f = self.ohm("PWM", "F1"), self.farad("F1", "GND")
        out.filter_2_ohm, out.filter_2_f = self.ohm("F1", "F2"), self.farad("F2", "GND")
        self.one("mcp6004", BP="F2", BN="VDAC", BO="VDAC")
        out.buffer_offset_v = self.draw.span("U8B.offset_v", opamp["offset_mv"], 1e-3)
        out.buffer_ohm = self.draw.span("U8B.output_ohm", opamp["output_ohm"])
        if self.defects.word("U8.B", "dead"):
            out.buffer_offset_v = -10       # its output stays at the lower rail

    def rails(self, usb_v: float | None) -> None:
        out, draw, supply = self.out, self.draw, self.fixture["supply"]
        out.usb_ohm = draw.between("usb.ohm", *USB_OHM)
        out.board_a = draw.between("board.a", *BOARD_A)
        at_rest = draw.between("usb.rail_at_rest_v", supply["min_v"] + 0.05, supply["max_v"], supply["nominal_v"])
        # open-circuit voltage such that the rail is `at_rest` with nothing on
        out.usb_v = usb_v if usb_v is not None else at_rest + out.usb_ohm * (out.board_a + 0.007)
        draw.drawn["usb.v"] = out.usb_v
        out.rail_f = self.farad("V5", "GND")
        reference = self.one("lm4040", K="VREF")
        out.reference_v = draw.part({**reference, "tolerance": reference["tolerance"]}, "volts")
        out.reference_ohm = self.kind["lm4040"]["dynamic_ohm"]
        out.reference_bias_ohm = self.ohm("V5", "VREF")

    def switches(self) -> None:
        out, draw = self.out, self.draw
        off_rail = self.fixture["supply"]["nominal_v"]
        drive = self.kind["hc595"]["output_ohm"]
        for k in range(25):
            out.supply_bit[k] = out.ground_bit[k] = -1
        for letter, kind, collector, room, emitter in (
                ("P", "pnp", "supply", "supply_positions", "VBUS"), ("N", "npn", "ground", "ground_positions", "GND")):
            for k in self.fixture["power"][room]:
                switch = self.one(kind, C=f"Z{k}", E=emitter)
                base = switch["pins"]["B"]
                values = {
                    "bit": self.registers[f"{letter}{k}"],
                    "sat_v": draw.span(f"{switch['ref']}.saturation_v", self.kind[kind]["saturation_mv"], 1e-3),
                    "sat_ohm": draw.span(f"{switch['ref']}.saturation_ohm", self.kind[kind]["saturation_ohm"]),
                    "beta": draw.span(f"{switch['ref']}.beta", self.kind[kind]["beta"]),
                    "base_ohm": self.ohm(f"{letter}{k}", base) + draw.span(f"{letter}{k}.output_ohm", drive),
                    "off_ohm": self.ohm(base, emitter),
                    "leak_s": draw.leak(f"{switch['ref']}.leak_a", self.kind[kind]["leak_na"]["max"] * 1e-9) / off_rail,
                }
                match self.defects.word(switch["ref"], "open", "short"):
                    case "open":
                        values["sat_ohm"] = OPEN_OHM
                    case "short":
                        values["leak_s"] = 1 / SHORTED_OHM
                for field, value in values.items():
                    getattr(out, f"{collector}_{field}")[k] = value
        out.base_v = BASE_V
        for register in (p for p in self.fixture["part"] if p["kind"] == "hc595"):
            self.used.add(register["ref"])
            out.gated[register["chain"] - 1] = int(register["pins"]["OE"] != "GND")
            dead = self.defects.word(register["ref"], "dead")
            for n in range(8):
                fault = self.defects.word(f"{register['ref']}.{n}", "low", "high") or (dead and "low")
                out.output_fault[register["chain"] * 8 - 8 + n] = FAULTS[f"FAULT_{fault.upper()}"] if fault else 0
        out.power_up_bits = int(draw.anywhere("registers.power_up", 0, 0xFFFFFF, 0x5A00FF))

    def supply_current(self) -> None:
        out, draw, opamp = self.out, self.draw, self.kind["mcp6004"]
        out.shunt_ohm, out.pedestal_ohm = self.ohm("V5", "VBUS"), self.ohm("VBUS", "GND")
        out.vbus_f = self.farad("VBUS", "GND")
        self.one("mcp6004", AP="SENSE_P", AN="SENSE_N", CP="ICC", CN="TRIP_LEVEL")
        self.joining("VBUS", "SENSE_P")
        sense = self.one("pnp", E="SENSE_N", C="ICC")
        out.icc_offset_v = draw.span("U8A.offset_v", opamp["offset_mv"], 1e-3)
        out.icc_in_ohm, out.icc_out_ohm = self.ohm("V5", "SENSE_N"), self.ohm("ICC", "GND")
        beta = draw.span(f"{sense['ref']}.beta", self.kind["pnp"]["beta"])
        out.icc_alpha = beta / (beta + 1)
        opamp_dead, transistor = self.defects.word("U8.A", "dead"), self.defects.word(sense["ref"], "open", "short")
        if transistor == "short":
            out.icc_offset_v = -1           # the output goes as high as it can
        elif transistor == "open" or opamp_dead:
            out.icc_alpha = 0
        out.icc_headroom_v = HEADROOM_V
        out.trip_upper_ohm, out.trip_lower_ohm = self.ohm("V5", "TRIP_LEVEL"), self.ohm("TRIP_LEVEL", "GND")
        out.trip_offset_v = draw.span("U8C.offset_v", opamp["offset_mv"], 1e-3)
        out.trip_delay_s = TRIP_DELAY_S
        if self.defects.word("U8.C", "dead"):
            out.trip_fault = FAULTS["FAULT_OPEN"]

    def deadman(self) -> None:
        out, draw = self.out, self.draw
        out.pump_couple_f, out.pump_store_f = self.farad("PUMP", "PUMP_AC"), self.farad("ALIVE", "GND")
        diodes = self.one("diode", A="GND", K="PUMP_AC"), self.one("diode", A="PUMP_AC", K="ALIVE")
        if any([self.defects.word(diode["ref"], "open", "short") for diode in diodes]):
            out.pump_couple_f = STRAY_F     # either way no charge is carried into the store
        out.pump_leak_ohm, out.enable_base_ohm = self.ohm("ALIVE", "GND"), self.ohm("ALIVE", "OE_BASE") + BASE_OHM
        enable = self.one("npn", B="OE_BASE", C="OE_N", E="GND")
        trip = self.one("npn", B="TRIP_BASE", C="ALIVE", E="GND")
        out.pump_diode_v = draw.between("D301.forward_v", DIODE_V - 0.05, DIODE_V + 0.05)
        out.enable_base_v = draw.between(f"{enable['ref']}.base_v", SMALL_BASE_V - 0.03, SMALL_BASE_V + 0.03)
        out.enable_beta = draw.span(f"{enable['ref']}.beta", self.kind["npn"]["beta"])
        out.enable_pull_ohm = self.ohm("OE_N", "V5")
        out.enable_threshold = draw.between("OE_N.threshold", 0.42, 0.52)  # of the rail; HC input
        out.trip_base_ohm = self.ohm("TRIP_OUT", "TRIP_BASE")
        out.trip_beta = draw.span(f"{trip['ref']}.beta", self.kind["npn"]["beta"])
        fault = self.defects.word(enable["ref"], "open", "short")
        short = self.defects.word(trip["ref"], "open", "short")
        if short == "short":                # the store is held empty
            fault = "open"
        out.enable_fault = FAULTS[f"FAULT_{fault.upper()}"] if fault else 0
        if short == "open" or out.trip_base_ohm == OPEN_OHM:
            out.trip_fault = FAULTS["FAULT_OPEN"]
        out.lamp_ohm, out.lamp_v = self.ohm("LAMP", "LAMP_A"), LED_V

    def converter(self) -> None:
        """Errors: |offset| + |gain at full scale| + |non-linearity| + 1/2 stays below the absolute accuracy."""
        out, draw, adc = self.out, self.draw, self.fixture["adc"]
        rest = (adc["absolute_lsb"] - adc["inl_lsb"] - 0.5) / 2
        out.adc_offset_lsb = draw.between("adc.offset_lsb", -rest, rest)
        gain = draw.between("adc.gain_lsb", -rest, rest)
        out.adc_gain = 1 + gain / 1024
        sizes, phases = draw.curve("adc.inl_lsb", adc["inl_lsb"], bend_peak)
        for n in range(3):
            out.adc_inl_lsb[n], out.adc_inl_phase[n] = sizes[n], phases[n]
        out.adc_noise_lsb = adc["noise_lsb"]
        out.adc_sample_ohm = 10 ** draw.between("adc.sample_ohm_log", math.log10(adc["sample_ohm"]["min"]),
                                                math.log10(adc["sample_ohm"]["max"]) - 0.7)
        out.adc_sample_f = adc["sample_pf"] * 1e-12
        for reference in adc["reference"]:
            if "volts" in reference:
                out.adc_reference_v[reference["code"]] = draw.span(f"adc.{reference['name']}_v", reference["volts"])
        # twelve time constants within what the firmware waits
        out.adc_reference_tau_s = adc["aref_settle_ms"] * 1e-3 / 12
        out.adc_noise_seed = zlib.crc32(f"noise {draw.seed}".encode())

    def all_used(self) -> None:
        for part in self.fixture["part"]:
            if part["ref"] not in self.used and part["kind"] not in WITHOUT_EFFECT:
                raise WiringError(f"part {part['ref']} ({part['kind']}, {part.get('role', '')}) has no place in the "
                                  "virtual fixture; teach tests/virtual_fixture/specimen.py")


def bend_peak(sizes: list[float], phases: list[float]) -> float:
    """Largest size of the converter's non-linearity: three waves, nought at both ends of the scale."""
    waves = list(enumerate(zip(sizes, phases, strict=True)))
    start = sum(size * math.sin(phase) for _, (size, phase) in waves)
    return max(abs(sum(size * math.sin(2 * math.pi * (n + 1) * x / 64 + phase) for n, (size, phase) in waves) - start)
               for x in range(64))


def pin_number(port: str) -> int:
    """PA0 -> 0, PL7 -> 87."""
    return PORTS.index(port[1]) * 8 + int(port[2])


@cache
def wiring(path: Path = PATH) -> Fixture:
    """A wiring file, each read once a process.  Raises WiringError, OSError."""
    return load(path)


def build(seed: int, *, usb_v: float | None = None, nominal: bool = False,
          fixture: Fixture | None = None, defects: Iterable[str] = (), spread: str | None = None) -> tuple[Specimen, dict[str, float]]:
    """One specimen of the fixture and the values drawn for it, by part name.

    nominal: every part at its typical value, no converter errors but noise.
    spread: "normal" or "even", None for what the wiring file says (draw.py).
    defects: texts NAME=VALUE, see defects.py; DefectError for one that cannot be made.
    Raises WiringError if the wiring file holds something the network does not know.
    """
    fixture = fixture or wiring()
    draw = Draw(seed, nominal, fixture["specimen"], Defects(defects), spread)
    builder = Builder(fixture, draw)
    builder.controller()
    builder.positions()
    builder.selectors()
    builder.level()
    builder.rails(usb_v)
    builder.switches()
    builder.supply_current()
    builder.deadman()
    builder.converter()
    add_bridges(builder.out, builder.fixture, builder.pin_of, draw.defects)
    builder.all_used()
    refuse_left(draw.defects, builder.fixture)
    return builder.out, draw.drawn
