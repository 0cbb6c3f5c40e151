"""A fixture at one corner of its spans, simulated: what the measures of the claims work with.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""
from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, cached_property

from hardware import tables
from hardware.spice.corner import Corner
from hardware.spice.netlist import Setup, netlist
from hardware.spice.simulate import run
from hardware.wiring import Fixture, load

# Over milliseconds with steep edges a thousandth is enough; ngspice takes a third of the time.
COARSE = ".options reltol=1e-3 vntol=1e-5 abstol=1e-8"


@cache
def wiring() -> Fixture:
    """hardware/wiring.toml, read once."""
    return load()


@cache
def _simulated(circuit: str, analysis: str, wanted: tuple[str, ...], options: str) -> dict[str, list[float]]:
    """The same question is put to ngspice once."""
    return run(circuit, analysis, wanted, options)


@dataclass(frozen=True)
class Bench:
    """The wiring file's fixture as a specimen of this corner.  All methods raise SpiceError."""

    corner: Corner = Corner()

    @property
    def fixture(self) -> Fixture:
        return wiring()

    @cached_property
    def supply_v(self) -> float:
        """Of this corner."""
        supply = self.fixture["supply"]
        return self.corner.of("supply", {"min": supply["min_v"], "typ": supply["nominal_v"], "max": supply["max_v"]})

    @cached_property
    def ports(self) -> dict[str, str]:
        """Net -> port pin of the controller's wires."""
        return tables.wires(self.fixture)

    def group(self, name: str) -> list[str]:
        """Nets of a port group's pins."""
        ports = next(group["ports"] for group in self.fixture["port_group"] if group["name"] == name)
        return [net for net, port in self.ports.items() if port in ports]

    def simulate(self, setup: Setup, analysis: str, wanted: Sequence[str], options: str = "") -> dict[str, list[float]]:
        """Vectors along an analysis."""
        return _simulated(netlist(self.fixture, setup, self.corner), analysis, tuple(wanted), options)

    def at_rest(self, setup: Setup, wanted: Sequence[str]) -> dict[str, float]:
        """Vectors at the operating point: volts, amperes."""
        return {name: values[0] for name, values in self.simulate(setup, "op", wanted).items() if name != "scale"}

    def in_time(self, setup: Setup, step_s: float, stop_s: float, wanted: Sequence[str], options: str = "") -> dict[str, list[float]]:
        """Vectors in time, "scale" in seconds."""
        return self.simulate(setup, f"tran {step_s:g} {stop_s:g}", wanted, options)


def driver(net: str) -> str:
    """The vector of the current into a controller's output, amperes; what it gives is negative."""
    return f"i(vp_{net})"
