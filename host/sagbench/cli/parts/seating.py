# SPDX-License-Identifier: MIT
"""Whether any fixture this program knows can take a part."""
from __future__ import annotations

from importlib import resources

from sagbench.errors import DeviceError
from sagbench.parts.model import Part


def unfit(part: Part) -> str:
    """Why no fixture can sweep it, in a sentence; "" if one can.  A part that fits none can still be written down and shown."""
    from sagbench.plan.fixture import load_fixture
    from sagbench.plan.rails import rails
    from sagbench.plan.seat import Seat
    why = ""
    for path in sorted(resources.files("sagbench.fixtures").iterdir(), key=lambda p: p.name):
        if not path.name.endswith(".json"):
            continue
        fixture = load_fixture(path.name.removesuffix(".json"))
        if part.pin_count > max(fixture.sizes):
            why = f"it cannot be swept: it has {part.pin_count} pins, and the socket takes {max(fixture.sizes)}"
            continue
        try:
            rails(fixture, part, Seat(fixture.positions, part.pin_count))
        except DeviceError as refused:
            why = f"it cannot be swept: {str(refused)[0].lower()}{str(refused)[1:]}"
            continue
        return ""
    return why
