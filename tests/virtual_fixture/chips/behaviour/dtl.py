"""Diode-transistor logic, the 930 series.  Pinouts and tables: data books of the DTL makers, from memory.

A gate's inputs are diodes on one resistor; the output is a transistor with a resistor to
VCC: 6k, in some types 2k; buffers pull up by a follower, power gates not at all.  What
hangs on an expander pin (further diodes) belongs to the gate; in the socket nothing does.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from .gates import DUAL4_GATES, DUAL4_SHARED, HEX, HEX_GATES, QUAD, QUAD_GATES, QUAD_SHARED, TRIPLE, TRIPLE_GATES, TRIPLE_SHARED
from .model import Gates, nand, part

DUAL4 = "1A 1B 1X 1C 1D 1Y GND 2Y 2A 2B 2X 2C 2D VCC"
SIX_K, TWO_K = {"?Y": 6000.0}, {"?Y": 2000.0}


class Dtl(Gates):
    """Positive NAND."""
    families = own = "DTL"
    function = staticmethod(nand)


class Dual4(Dtl):
    """Two of four inputs and an expander node."""
    pins, gates, shared, analog = DUAL4, DUAL4_GATES, DUAL4_SHARED, "1X 2X"
    outputs = "1Y 2Y"
    expanders = {"?X": (3750.0, 0.0, 3)}    # the diodes' node: 2k and 1.75k above, two bases and a diode below


class Quad2(Dtl):
    """Four of two inputs."""
    pins, gates, shared = QUAD, QUAD_GATES, QUAD_SHARED
    outputs = "1Y 2Y 3Y 4Y"


class Triple3(Dtl):
    """Three of three inputs."""
    pins, gates, shared = TRIPLE, TRIPLE_GATES, TRIPLE_SHARED
    outputs = "1Y 2Y 3Y"


class Hex1(Dtl):
    """Six of one input."""
    pins, gates = HEX, HEX_GATES
    outputs = "1Y 2Y 3Y 4Y 5Y 6Y"


@part("930")
class Dual4Gate(Dual4):
    """6k."""
    open_collector, pull_ups = Dual4.outputs, SIX_K


@part("961")
class Dual4Gate2k(Dual4):
    """2k."""
    open_collector, pull_ups = Dual4.outputs, TWO_K


@part("932")
class Dual4Buffer(Dual4):
    """Follower above, three gates' sink."""
    drive = "buffer"


@part("944")
class Dual4Power(Dual4):
    """Open collector, the buffer's sink."""
    open_collector, drive = Dual4.outputs, "buffer"


@part("936")
class HexInverter(Hex1):
    """6k."""
    open_collector, pull_ups = Hex1.outputs, SIX_K


@part("937")
class HexInverter2k(Hex1):
    """2k."""
    open_collector, pull_ups = Hex1.outputs, TWO_K


@part("946")
class Quad2Gate(Quad2):
    """6k."""
    open_collector, pull_ups = Quad2.outputs, SIX_K


@part("949")
class Quad2Gate2k(Quad2):
    """2k."""
    open_collector, pull_ups = Quad2.outputs, TWO_K


@part("957")
class Quad2Buffer(Quad2):
    """Follower above, three gates' sink."""
    drive = "buffer"


@part("958")
class Quad2Power(Quad2):
    """Open collector, the buffer's sink."""
    open_collector, drive = Quad2.outputs, "buffer"


@part("962")
class Triple3Gate(Triple3):
    """6k."""
    open_collector, pull_ups = Triple3.outputs, SIX_K


@part("963")
class Triple3Gate2k(Triple3):
    """2k."""
    open_collector, pull_ups = Triple3.outputs, TWO_K
