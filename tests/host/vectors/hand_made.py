"""Small parts made by hand for these tests.

SPDX-License-Identifier: MIT
"""
from sagbench.parts.definition import Definition
from sagbench.parts.reader import read


def by_hand(inputs: str, outputs: str, logic: list[str], *, tri_state: str = "", bidirectional: str = "", program: str = "", order: str = "") -> Definition:
    """A part with these pins (names with spaces between; `order`: from pin 1 on, else inputs, GND, outputs) and statements."""
    signals = order.split() or [*inputs.split(), "GND", *outputs.split(), *tri_state.split(), *bidirectional.split()]
    pins = [*signals, *["NC"] * (len(signals) % 2 == 0), "VCC"]

    def row(names: list[str]) -> str:
        return "[" + ", ".join(f'"{name}"' for name in names) + "]"

    return read(f"""
function = "08"
title = "made by hand"
[[pinout]]
pins = {row(pins)}
[[block]]
inputs = {row(inputs.split())}
outputs = {row(outputs.split())}
tri_state = {row(tri_state.split())}
bidirectional = {row(bidirectional.split())}
logic = {row(logic)}
program = {row([program] if program else [])}
[family.74]
""", "by hand")
