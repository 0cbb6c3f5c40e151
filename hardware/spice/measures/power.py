"""What the chip gets: drops between supply and socket, volts; as shares of the wiring file's spans.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""
from __future__ import annotations

from hardware.spice.bench import Bench
from hardware.spice.netlist import Setup


def _path(bench: Bench, ma: float, supply: int, ground: int) -> dict[str, float]:
    """A chip that draws so much between two positions."""
    setup = Setup(supply=[supply], ground=[ground], socket=[f"Ichip Z{supply} Z{ground} {ma / 1000:g}"])
    nodes = {"supply": f"Z{supply}", "ground": f"Z{ground}", "bus": "VBUS"}
    found = bench.at_rest(setup, [f"v({net})" for net in nodes.values()])
    return {name: found[f"v({net})"] for name, net in nodes.items()}


def chip_v(bench: Bench, ma: float, supply: int = 24, ground: int = 7) -> float:
    """Volts between the chip's own supply pins."""
    path = _path(bench, ma, supply, ground)
    return path["supply"] - path["ground"]


def drop_v(bench: Bench, ma: float) -> float:
    """What is lost between the controller board's supply and the chip."""
    return bench.supply_v - chip_v(bench, ma)


def ground_v(bench: Bench, ma: float) -> float:
    """The chip's ground pin above the fixture's."""
    return _path(bench, ma, 24, 7)["ground"]


def pairs_differ_mv(bench: Bench, ma: float) -> float:
    """Largest less smallest voltage at the chip over all pairs of supply and ground positions."""
    power = bench.fixture["power"]
    volts = [chip_v(bench, ma, supply, ground) for supply in power["supply_positions"] for ground in power["ground_positions"]]
    return 1000 * (max(volts) - min(volts))


def switch_share(bench: Bench, kind: str, ma: float) -> float:
    """Drop of a closed switch, as a share of the most that the wiring file's span of its kind allows."""
    path = _path(bench, ma, 24, 7)
    span = bench.fixture["kind"][kind]
    volts = path["ground"] if kind == "npn" else path["bus"] - path["supply"]
    return volts / (span["saturation_mv"]["max"] / 1000 + span["saturation_ohm"]["max"] * ma / 1000)
