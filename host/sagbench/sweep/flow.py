"""The order of the stages, and what ends a sweep early.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from sagbench.device import Device
from sagbench.errors import DeviceError, LinkError
from sagbench.judge.evidence import Evidence, assemble
from sagbench.parts.model import Part
from sagbench.plan.recipe import Recipe
from sagbench.record import SweepRecord
from sagbench.sweep.contact import contact, lost_contact, rail_at_end, same_rail, steady_rail, still_there
from sagbench.sweep.measuring import load_lines, logic, supply
from sagbench.sweep.parameters import clamps, finish, inputs
from sagbench.sweep.power import power_up
from sagbench.sweep.pulses import pulse_widths
from sagbench.sweep.state import Options, PassFault, Progress, State, Unpowerable
from sagbench.sweep.thresholds import thresholds

_WAY = (
    ("contact", contact),
    ("input clamps", clamps),
    ("power", power_up),
    ("supply current", supply),
    ("logic", logic),
    ("pulse widths", pulse_widths),
    ("input thresholds", thresholds),
    ("input currents", inputs),
    ("load lines", load_lines),
)
STAGES = tuple(name for name, _ in _WAY)


def sweep(
    device: Device, part: Part, *, marking: str = "", progress: Progress | None = None, options: Options | None = None
) -> SweepRecord:
    """Measure and judge one chip.

    progress is called with (stage, done, total).  Ctrl-C gives a record marked as partial.
    Raises TooManyPins, DeviceError (supply outside its span or not steady, the fixture refuses), LinkError.
    """
    return assemble(gather(device, part, marking=marking, progress=progress, options=options))


def gather(
    device: Device, part: Part, *, marking: str = "", progress: Progress | None = None, options: Options | None = None
) -> Evidence:
    """Measure one chip and judge nothing: `measured` has all figures with their conditions. Raises as `sweep`."""
    s = State(device, part, marking, progress or (lambda *_: None), options or Options())
    try:
        _stages(s)
    except KeyboardInterrupt:
        device.halt()
        s.evidence.partial = "interrupted by the user"
    except PassFault as fault:
        device.halt()
        raise DeviceError(
            f"The fixture broke off by a safety rule ({fault}) where no chip can be the cause: "
            "reset it, and see that its registers and switches are fitted as the wiring says."
        ) from None
    except DeviceError:
        device.halt()
        raise
    except LinkError as lost:
        s.evidence.partial = "the link to the fixture was lost"
        lost.record = assemble(s.evidence)
        raise
    s.progress("done", len(STAGES), len(STAGES))
    s.evidence.timing = s.timing()
    return s.evidence


def _stages(s: State) -> None:
    s.begin()
    try:
        for index, (name, stage) in enumerate(_WAY):
            s.progress(name, index, len(_WAY))
            stage(s)
    except Unpowerable:
        pass
    finally:
        finish(s)
    recipe = Recipe()
    rail_at_end(recipe)
    still_there(s, recipe)
    readings = s.run(recipe)
    same_rail(s, readings)
    steady_rail(s, readings)
    lost_contact(s, readings)
