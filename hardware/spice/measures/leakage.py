"""What flows where nothing should: multiplexers, controller pins and switches that are off.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""
from __future__ import annotations

from hardware.spice.bench import Bench
from hardware.spice.netlist import Setup


def _loads() -> dict[str, int]:
    return {"weak": 1, "trickle": 2}


def node_ua(bench: Bench, position: int = 1) -> float:
    """Out of node K and the position on it, held at half the supply."""
    setup = Setup(sense=position, socket=[f"Vhalf Z{position} 0 {bench.supply_v / 2}"])
    return 1e6 * abs(bench.at_rest(setup, ["i(vhalf)"])["i(vhalf)"])


def load_mv(bench: Bench, load: str, position: int = 1) -> float:
    """An open position pulled to 0 V through a load: what is left there."""
    setup = Setup(pins={"LD": 0}, sense=position, load=_loads()[load])
    return 1000 * abs(bench.at_rest(setup, ["v(K)"])["v(K)"])


def switch_ua(bench: Bench, position: int) -> float:
    """Through an open supply or ground switch, with the dead-man off and the position at the rail the switch is not on."""
    volts = 0 if position in bench.fixture["power"]["supply_positions"] else bench.supply_v
    held, apart = (Setup(enabled=False, socket=[f"Vpos Z{k} 0 {volts}"]) for k in (position, 2))
    currents = [1e6 * bench.at_rest(setup, ["i(vpos)"])["i(vpos)"] for setup in (held, apart)]
    return abs(currents[0] - currents[1])            # position 2 has no switch
