"""A monostable's pulse width, coarsely, brought to the fixture's nominal timing resistor and capacitance.

    TW = (time at the output + what passes before the first look) * (R nominal / R) * (C nominal / C)

R is a resistor of the load selector with its channels. C is what hangs on the timing pin: the position and node K of the
wiring file, typical figures of data sheets for what nobody has measured; the chip's own pin is not counted. That is
the largest part of the uncertainty by far, and why such a figure says "about so long" and no more.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from dataclasses import dataclass

from sagbench.measure.inputs import Figure
from sagbench.measure.model import Model
from sagbench.measure.uncertain import Uncertain, uncertain, value
from sagbench.parts.model import PulseTest
from sagbench.plan.fixture import LoadPoint
from sagbench.plan.pulses import CLOCK_S, ENDLESS, FOLLOWED_S, LOOK_CLOCKS, SHOTS, high_at
from sagbench.plan.recipe import Readings
from sagbench.record import Quantity

STRAY_SHARE = 0.25  # standard deviation of the stray capacitance: data sheets give typical figures only
# From the edge to the first look 5 clocks pass (the image's own), less 1 in the pin's synchroniser (data sheet) and 20 to
# 70 ns until the chip answers (data books): what is missed of a pulse, mean and standard deviation.
MISSED_S = (0.23e-6, 0.06e-6)
BLIND_S = 6 * CLOCK_S  # the first shot's first look, and a clock: what is longer is seen
FINE_S = 16e-6  # longer ones are followed by the clock,
COARSE_S = 1e-6  # with this standard deviation


@dataclass(frozen=True)
class Timed:
    """What one way to trigger has shown. Seconds, ohms, farads."""

    test: PulseTest
    ohm: float  # nominal timing resistor,
    farad: float  # and capacitance
    seen: int  # of SHOTS triggers, those that a pulse followed
    length: float  # mean as counted, 0: none; at least FOLLOWED_S if `long`
    width: Figure | None  # TW; None if nothing was seen, or it was not followed to its end
    endless: bool = False  # not over 30 ms after a trigger
    untriggered: bool = False  # the output left its rest level before anything had triggered it
    prolonged: float | None = None  # by a second trigger: share of the time between the two; None: not tried

    @property
    def long(self) -> bool:
        """True if the pulse was not followed to its end."""
        return self.length >= FOLLOWED_S

    @property
    def nominal_rc(self) -> float:
        """Seconds."""
        return self.ohm * self.farad


def capacitance(model: Model) -> Uncertain:
    """Farads between a timing pin and ground."""
    stray = model.fixture.raw["capacitance_pf"]
    farad = (stray["position_pf"] + stray["node_k_pf"]) * 1e-12
    return uncertain(farad, STRAY_SHARE * farad, "stray capacitance")


def timed(model: Model, test: PulseTest, point: LoadPoint, readings: Readings, position: tuple[int, int]) -> Timed | None:
    """From the readings of `plan.pulses.fire`; None if they are missing. position: of the timing pin, of the output."""
    (length,), (count,) = (readings.labelled(label) for label in ("pulse", "pulses seen"))
    cleared, ready = (high_at(readings.labelled(f"pulse {state}"), position[1]) for state in ("cleared", "ready"))
    if length.total is None or count.total is None:
        return None
    halfway = value(model.rail) / 2  # it charges from low to some level between
    ohm = model.selector_ohm(point.load, True, halfway) + model.ron(position[0], model.between(halfway, halfway))
    farad = capacitance(model)
    untriggered = None not in (cleared, ready) and cleared is not ready
    endless = length.total == ENDLESS
    seconds = 0.0 if endless else length.total * CLOCK_S
    width = None
    if seconds and seconds < FOLLOWED_S:
        missed = uncertain(0.0, COARSE_S, "pulse's clock") if seconds > FINE_S else uncertain(*MISSED_S, "before the first look")
        at_nominal = (seconds + missed) * (value(ohm) * value(farad)) / (ohm * farad)
        width = Figure(at_nominal, Quantity(value(ohm), 0.0, "ohm"), "measured there", _state(value(farad)))
    return Timed(test, value(ohm), value(farad), count.total, seconds, width, endless, untriggered)


def _state(farad: float) -> str:
    return f"against the fixture's own {farad * 1e12:.0f} pF or so"


def prolonged(first: Timed, again: int, readings: Readings) -> float | None:
    """How much longer two triggers have made the pulse, as a share of the time between them; None if not read."""
    (length,) = readings.labelled("pulse again")
    (count,) = readings.labelled("pulses seen again")
    if length.total is None or length.total == ENDLESS or count.total != SHOTS or first.seen != SHOTS:
        return None
    return (length.total * CLOCK_S - first.length) / (again * LOOK_CLOCKS * CLOCK_S)
