"""ngspice, the virtual fixture and the host's measurement model on the same situations: they know nothing of each other
but hardware/wiring.toml, and they agree.

The virtual fixture has typical parts here, and so has the circuit given to ngspice.  How near they must be:

- the two simulations, no switch closed: 2 mV, and 20 ohms times the current through node K.  The wiring file gives the typical
  resistance of a multiplexer channel as one number, 70 ohms; one simulation lets it change with the level, the other does not,
  and two channels are in the way.
- the two simulations, switches closed: each has a transistor model of its own, within the span of the wiring file (5 to 40 mV and
  0.4 to 1.5 ohms for the supply switch): 15 mV and 0.2 ohms in the voltages, 1 % of the supply current.
- over-current: the virtual fixture trips 4 % above the current at which ngspice's comparator turns, and not 4 % below (host and
  firmware only ever see that it has).  A short trips in both.
- dead-man: the host's reading against ngspice 25 %.  The virtual fixture takes C303 for gone once PUMP stands still; stuck
  high it adds a tenth to C304.
- the host against ngspice: a code and a half of the converter, or the host's own U (k = 2) where that is more: it has not measured the
  channels here and takes them to be in the middle of their span.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import pytest
from sagbench.calibrate.passes import run
from sagbench.device import Device
from sagbench.measure.model import Model
from sagbench.plan.fixture import fixture_of
from sagbench.plan.recipe import Recipe
from sagbench.plan.seat import mask
from sagbench.wire import steps
from sagbench.wire.numbers import LineLevel, Reference, Source
from virtual_fixture.inproc import Fixture

from hardware.spice.bench import Bench, driver
from hardware.spice.measures.deadman import off_ms
from hardware.spice.measures.trip import chip_ma_at_trip, trip_us
from hardware.spice.netlist import Setup

CODE_V = 5.0 / 1024
HOST_V = 1.5 * CODE_V      # between the host's figure and ngspice's
NETWORK_V, CHANNELS_OHM = 0.002, 20.0     # between the two simulations, no switch closed
SWITCH_V, SWITCH_OHM = 0.015, 0.2         # the same, switches closed
SWITCH_A, ICC_A = 0.01, 0.0001            # currents: relative; and half a code of ICC
TRIP, DEAD_MAN = 0.04, 0.25               # relative
BOOT_S = 0.05


@dataclass(frozen=True)
class Situation:
    """Resistors in the socket, M lines that drive, what K is tied to, and which rail LD drives the load to."""

    resistors: Mapping[tuple[int, int], float]
    lines: Mapping[int, int] = field(default_factory=dict)
    sense: int = 0
    load: int = 0
    ld: int = 0

    def setup(self) -> Setup:
        socket = [f"Rsocket{a}_{b} Z{a} Z{b} {ohm}" for (a, b), ohm in self.resistors.items()]
        return Setup({**{f"M{k}": level for k, level in self.lines.items()}, "LD": self.ld}, sense=self.sense, load=self.load,
                     socket=socket)


SITUATIONS = {
    "divider of M lines": Situation({(1, 12): 470}, {1: 1, 12: 0}, sense=12),
    "divider of M lines, other end": Situation({(1, 12): 470}, {1: 1, 12: 0}, sense=1),
    "two resistors to low lines": Situation({(3, 9): 1000, (3, 24): 2200}, {3: 1, 9: 0, 24: 0}, sense=3),
    "weak load to ground": Situation({(5, 20): 4700}, {5: 1}, sense=20, load=1),
    "weak load to the supply": Situation({(5, 20): 4700}, {5: 0}, sense=20, load=1, ld=1),
    "trickle load to ground": Situation({(2, 17): 47000}, {2: 1}, sense=17, load=2),
    "calibration reference": Situation({(8, 13): 330}, {8: 1}, sense=13, load=3),
    "heavy load": Situation({(8, 13): 330}, {8: 1}, sense=13, load=5),
    "heavy load to the supply": Situation({(8, 13): 330}, {8: 0}, sense=13, load=5, ld=1),
}


def texts(resistors: Mapping[tuple[int, int], float]) -> list[str]:
    return [f"{a},{b}={ohm}" for (a, b), ohm in resistors.items()]


@pytest.mark.parametrize("situation", SITUATIONS.values(), ids=SITUATIONS)
def test_a_position(situation: Situation) -> None:
    with Fixture(nominal=True) as fixture:
        fixture.resistors(*texts(situation.resistors))
        fixture.run(BOOT_S)
        with Device(fixture.line) as device:
            model = Model(fixture_of(device.info.wiring_id))
            recipe = Recipe()
            recipe.reference(Reference.AVCC)
            recipe.read(Source.VREF, 64, label="rail")
            high = mask(k for k, level in situation.lines.items() if level)
            recipe.drive(mask(situation.lines), 0, high)
            recipe.sense(situation.sense, situation.load, LineLevel.HIGH if situation.ld else LineLevel.LOW)
            recipe.settle(1000)
            recipe.read_position(situation.sense, 64, label="seen", selector=situation.load,
                                 ld=LineLevel.HIGH if situation.ld else LineLevel.LOW)
            readings, _ = run(device, recipe)
            virtual = fixture.node(situation.sense)
            model.learn_rail(*readings.labelled("rail"))
            host = model.pin_volts(*readings.labelled("seen"))
    found = Bench().at_rest(situation.setup(), [f"v(Z{situation.sense})", driver("LD")])
    spice, through = found[f"v(Z{situation.sense})"], abs(found[driver("LD")])
    print(f"ngspice {spice:.4f} V, virtual fixture {virtual:.4f} V, host {host.nominal_value:.4f} V, u {host.std_dev:.4f}")
    assert virtual == pytest.approx(spice, abs=NETWORK_V + CHANNELS_OHM * through)
    assert host.nominal_value == pytest.approx(spice, abs=max(HOST_V, 2 * host.std_dev))


@pytest.mark.parametrize("ohm", [1000, 143, 47])
def test_a_chip_that_draws_current(ohm: float) -> None:
    """A resistor between supply position 24 and ground position 7, powered: 5, 33 and 95 mA."""
    with Fixture(nominal=True) as fixture:
        fixture.resistors(*texts({(7, 24): 1000}))       # a smaller one would be taken for a short before power
        fixture.run(BOOT_S)
        with Device(fixture.line) as device:
            model = Model(fixture_of(device.info.wiring_id))
            recipe = Recipe()
            recipe.reference(Reference.AVCC)
            recipe.read(Source.VREF, 64, label="rail")
            recipe.power_on([24], 0, 1023, label="zero")
            recipe.read(Source.ICC, 64, label="zero, finely")
            recipe.power_off()
            recipe.power_on([24], 7, 1023)
            rest, _ = run(device, recipe)
            fixture.resistors(*texts({(7, 24): ohm}))
            recipe = Recipe()
            recipe.reference(Reference.AVCC)
            recipe.settle(2000)
            recipe.read(Source.VREF, 64, label="rail")
            recipe.read(Source.ICC, 64, label="drawn")
            recipe.read_position(24, 64, label="supply")
            recipe.read_position(7, 64, label="ground")
            readings, _ = run(device, recipe)
            virtual = {k: fixture.node(k) for k in (24, 7)}
            rail_v = fixture.node("V5")                      # the USB supply sags under the current
            model.learn_rail(*readings.labelled("rail"))
            icc = model.icc(readings.labelled("drawn"), rest.labelled("zero, finely"))
            host = {k: model.pin_volts(*readings.labelled(name)) for k, name in ((24, "supply"), (7, "ground"))}
    setup = Setup(supply=[24], ground=[7], socket=[f"Rchip Z24 chip {ohm}", "Vchip chip Z7 0"], rail_v=rail_v)
    spice = Bench().at_rest(setup, ["v(Z24)", "v(Z7)", "i(vchip)"])
    amperes = spice["i(vchip)"]
    print(f"ngspice {amperes * 1000:.3f} mA, host {icc.nominal_value * 1000:.3f} mA, u {icc.std_dev * 1000:.3f}")
    drawn = (virtual[24] - virtual[7]) / ohm
    for k in (24, 7):
        print(f"Z{k}: ngspice {spice[f'v(Z{k})']:.4f} V, virtual fixture {virtual[k]:.4f} V, host {host[k].nominal_value:.4f} V")
    assert drawn == pytest.approx(amperes, rel=SWITCH_A)
    assert icc.nominal_value == pytest.approx(amperes, rel=SWITCH_A, abs=ICC_A)
    assert abs(icc.nominal_value - drawn) <= 2 * icc.std_dev
    for k in (24, 7):
        apart = SWITCH_V + SWITCH_OHM * amperes
        assert virtual[k] == pytest.approx(spice[f"v(Z{k})"], abs=apart)
        assert host[k].nominal_value == pytest.approx(spice[f"v(Z{k})"], abs=HOST_V + apart)


def stays_powered(ohm: float) -> tuple[bool, float]:
    """A chip in the virtual fixture that turns into so many ohms: is it still powered 10 ms later, and volts across it."""
    with Fixture(nominal=True) as fixture:
        fixture.resistors(*texts({(7, 24): 1000}))
        fixture.run(BOOT_S)
        with Device(fixture.line) as device:
            recipe = Recipe()
            recipe.power_on([24], 7, 1023)
            run(device, recipe)
            fixture.resistors(*texts({(7, 24): ohm}))
            fixture.run(0.01)
            fixture.forgive()                                # what a short does to ratings is not the question
            return fixture.powered, fixture.node(24) - fixture.node(7)


def test_over_current() -> None:
    bench = Bench()
    trips_a = chip_ma_at_trip(bench) / 1000
    powered, volts = stays_powered(30)
    ohm = volts / trips_a                                    # the drop changes by some 1 % from there to the trip
    assert powered and volts / 30 < trips_a
    assert stays_powered(ohm * (1 + TRIP))[0]
    assert not stays_powered(ohm * (1 - TRIP))[0]


@pytest.mark.parametrize("ohm", [0.3, 3, 15])
def test_a_short(ohm: float) -> None:
    """Trips in both simulations, within the 10 ms that the virtual fixture is given."""
    assert not stays_powered(ohm)[0]
    assert trip_us(Bench(), ohm) < 1000


@pytest.mark.parametrize("level", [0, 1])
def test_the_dead_man(level: int) -> None:
    with Fixture(nominal=True) as fixture:
        fixture.run(BOOT_S)
        with Device(fixture.line) as device:
            released_ms, _ = device.run_pass([steps.power_off(), steps.settle(30000), steps.deadman(level), steps.end()]).readings
    assert released_ms == pytest.approx(off_ms(Bench(), level, 100), rel=DEAD_MAN)
