# SPDX-License-Identifier: MIT
"""Which of the fixtures this program knows can take a part."""
from __future__ import annotations

from importlib import resources

from sagbench.errors import DeviceError
from sagbench.parts.model import Part


def refusals(part: Part) -> dict[str, str]:
    """Name of each fixture -> why it cannot sweep the part, as the end of a sentence; "" if it can."""
    from sagbench.plan.fixture import load_fixture
    from sagbench.plan.rails import rails
    from sagbench.plan.seat import Seat
    out = {}
    for path in sorted(resources.files("sagbench.fixtures").iterdir(), key=lambda p: p.name):
        if not path.name.endswith(".json"):
            continue
        fixture = load_fixture(path.name.removesuffix(".json"))
        out[fixture.name] = ""
        if part.pin_count > max(fixture.sizes):
            out[fixture.name] = f"it has {part.pin_count} pins, and the socket takes {max(fixture.sizes)}"
            continue
        try:
            rails(fixture, part, Seat(fixture.positions, part.pin_count))
        except DeviceError as refused:
            out[fixture.name] = f"{str(refused)[0].lower()}{str(refused)[1:]}".rstrip(".")
    return out


def unfit(part: Part) -> str:
    """Why no fixture can sweep it, in a sentence; "" if one can.  A part that fits none can still be written down and shown."""
    found = refusals(part)
    return "" if "" in found.values() else f"it cannot be swept: {[*found.values()][-1]}"


def where(part: Part) -> str:
    """Which fixtures cannot sweep it, if not all can; "" if all can."""
    found = refusals(part)
    fits = [name for name, why in found.items() if not why]
    if not fits or len(fits) == len(found):
        return unfit(part)
    return f"It can be swept in {', '.join(fits)}; " + "; ".join(f"not in {name}: {why}" for name, why in found.items() if why) + "."
