"""More buffers: 425, 426, 465..468, 795..798, open-collector octals, ten bits wide.

Pinouts and function tables: TI and National data books, from memory; the '82x: AMD's bus interface family, from memory.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from .bus import OCTAL_OUTPUTS, OctalBuffer, OctalBufferMixed, QuadThreeState, QuadThreeStateHigh
from .model import OFF, Levels, Part, part


@part("425")
class QuadThreeStateTwin(QuadThreeState):
    """Y = A while C/ is low: the pins of the '125."""
    families = "TTL"


@part("426")
class QuadThreeStateHighTwin(QuadThreeStateHigh):
    """Y = A while C is high: the pins of the '126."""
    families = "TTL"


class OctalSideBySide(Part):
    """Eight buffers, each output beside its input, both enables low: on."""
    pins = "G1/ A1 Y1 A2 Y2 A3 Y3 A4 Y4 GND Y5 A5 Y6 A6 Y7 A7 Y8 A8 G2/ VCC"
    outputs = "Y1 Y2 Y3 Y4 Y5 Y6 Y7 Y8"
    three_state, drive, families = "*", "bus", "LS ALS"
    inverted = 0

    def off(self, k: str, v: Levels) -> int:
        """Whether output k is switched off."""
        return v["G1/"] | v["G2/"]

    def evaluate(self, v: Levels) -> Levels:
        return {f"Y{k}": OFF if self.off(k, v) else v[f"A{k}"] ^ self.inverted for k in "12345678"}


@part("465")
class OctalSideTrue(OctalSideBySide):
    """Y = A."""


@part("466")
class OctalSideInverting(OctalSideBySide):
    """Y = not A."""
    inverted = 1


@part("467")
class OctalSideSplit(OctalSideBySide):
    """Y = A; G1/ is of the first four, G2/ of the others."""

    def off(self, k: str, v: Levels) -> int:
        return v["G1/"] if k in "1234" else v["G2/"]


@part("468")
class OctalSideSplitInverting(OctalSideSplit):
    """Y = not A; G1/ is of the first four, G2/ of the others."""
    inverted = 1


@part("795")
class OctalSideTrueNational(OctalSideTrue):
    """National's '465."""
    families = "LS"


@part("796")
class OctalSideInvertingNational(OctalSideInverting):
    """National's '466."""
    families = "LS"


@part("797")
class OctalSideSplitNational(OctalSideSplit):
    """National's '467."""
    families = "LS"


@part("798")
class OctalSideSplitInvertingNational(OctalSideSplitInverting):
    """National's '468."""
    families = "LS"


@part("756")
class OctalOpenInverting(OctalBuffer):
    """The '240 with open collectors."""
    inverted, three_state, open_collector, families = 1, "", OCTAL_OUTPUTS, "AS ALS"


@part("757")
class OctalOpenMixed(OctalBufferMixed):
    """The '241 with open collectors."""
    three_state, open_collector, families = "", OCTAL_OUTPUTS, "AS ALS"


@part("760")
class OctalOpenTrue(OctalBuffer):
    """The '244 with open collectors."""
    three_state, open_collector, families = "", OCTAL_OUTPUTS, "AS ALS"


@part("827")
class TenBuffers(Part):
    """Y = A while both enables are low."""
    pins = "OE1/ A0 A1 A2 A3 A4 A5 A6 A7 A8 A9 GND OE2/ Y9 Y8 Y7 Y6 Y5 Y4 Y3 Y2 Y1 Y0 VCC"
    outputs = "Y0 Y1 Y2 Y3 Y4 Y5 Y6 Y7 Y8 Y9"
    three_state, drive, families = "*", "bus", "F ACT"
    inverted = 0

    def evaluate(self, v: Levels) -> Levels:
        off = v["OE1/"] or v["OE2/"]
        return {f"Y{k}": OFF if off else v[f"A{k}"] ^ self.inverted for k in range(10)}


@part("828")
class TenBuffersInverting(TenBuffers):
    """Y = not A while both enables are low."""
    inverted, families = 1, "F"
