"""What a specimen of the fixture is like: which end of its span each quantity is at.

    >>> Corner("hot", {"driver": "min"}).of("driver", {"min": 20, "typ": 27, "max": 40})
    20.0

SPDX-License-Identifier: CERN-OHL-S-2.0
"""
from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

ENDS = ("min", "typ", "max")
# What may be at an end; beside these, any designator of the wiring file ("R320" = "max").
QUANTITIES = ("supply", "driver", "resistor", "capacitor", "channel", "register", "gain", "saturation", "offset", "reference",
              "leakage", "threshold")


@dataclass(frozen=True)
class Corner:
    """A name, and the end ("min", "typ", "max") of every quantity or designator that is not typical."""

    name: str = "typical"
    ends: Mapping[str, str] = field(default_factory=dict)

    def end(self, quantity: str, ref: str = "") -> str:
        """Where it is: the part's own end comes before that of its quantity."""
        return self.ends.get(ref, self.ends.get(quantity, "typ"))

    def of(self, quantity: str, span: Mapping[str, Any], ref: str = "") -> float:
        """A value of a span of the wiring file, in its unit.  Without `typ` the middle is typical; of a leakage only the
        largest is known, typical is none, and "min" is the same the other way round."""
        end = self.end(quantity, ref)
        if "min" not in span:
            return float({"min": -span["max"], "typ": 0.0, "max": span["max"]}[end])
        return float(span.get(end, (span["min"] + span["max"]) / 2))

    def toleranced(self, quantity: str, value: float, tolerance: float, ref: str) -> float:
        """A value of a part with a tolerance."""
        return value * (1 + tolerance * (ENDS.index(self.end(quantity, ref)) - 1))
