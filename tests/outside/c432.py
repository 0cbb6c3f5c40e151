"""The ISCAS-85 circuit c432, a priority controller of three nine-bit buses, from its regular structure.

Written from the published netlist's structure (nets keep its numbers): nine channels with four inputs each; three
rounds of priority; an encoder.  `test_fault_counts` proves it equivalent to a packaged copy.

SPDX-License-Identifier: MIT
"""
from sagbench.vectors.netlist import Gate, build

# For each channel: enable, and the requests of buses A, B, C.
CHANNELS = [(4, 1, 8, 14), (17, 11, 21, 27), (30, 24, 34, 40), (43, 37, 47, 53), (56, 50, 60, 66), (69, 63, 73, 79),
            (82, 76, 86, 92), (95, 89, 99, 105), (108, 102, 112, 115)]
ENCODER = """
415 NOT 380 | 417 NOT 393 | 418 NOT 404 | 419 NOT 407 | 420 NOT 411 | 416 AND 381 386 393 399 404 407 411 414
421 NOR 415 416 | 422 NAND 386 417 | 425 NAND 386 393 418 399 | 428 NAND 399 393 419 | 429 NAND 386 393 407 420
430 NAND 381 386 422 399 | 431 NAND 381 386 425 428 | 432 NAND 381 422 425 429
"""
GRANT = [380, 381, 386, 393, 399, 404, 407, 411, 414]


def c432():
    """The netlist: 36 inputs, 7 outputs, 160 gates."""
    gates = []

    def gate(name, kind, *fanin):
        gates.append(Gate(str(name), kind, tuple(map(str, fanin))))
        return name

    any_a = gate(199, "AND", *(f"a{i}" for i in range(9)))
    any_b = gate(296, "AND", *(f"b{i}" for i in range(9)))
    any_c = gate(357, "AND", *(f"c{i}" for i in range(9)))
    for source, names in ((any_a, (203, 213, 223)), (any_b, (309, 319, 329)), (any_c, (360, 370))):
        for name in names:
            gate(name, "NOT", source)
    for i, (enable, a, b, c) in enumerate(CHANNELS):
        gate(f"na{i}", "NOT", a)
        gate(f"ne{i}", "NOT", enable)
        gate(f"a{i}", "NAND", f"na{i}", enable)
        gate(f"rb{i}", "NOR", b, f"ne{i}")
        gate(f"rc{i}", "NOR", c, f"ne{i}")
        gate(f"xa{i}", "XOR", 203, f"a{i}")
        gate(f"b{i}", "NAND", f"xa{i}", f"rb{i}")
        gate(f"pc{i}", "NAND", f"xa{i}", f"rc{i}")
        gate(f"nc{i}", "NOT", f"pc{i}")
        gate(f"xb{i}", "XOR", 309, f"b{i}")
        gate(f"c{i}", "NAND", f"xb{i}", f"nc{i}")
        gate(GRANT[i], "NAND", enable, gate(f"ga{i}", "NAND", a, 213), gate(f"gb{i}", "NAND", b, 319),
             gate(f"gc{i}", "NAND", c, 360))
    for entry in ENCODER.replace("\n", "|").split("|"):
        if entry.strip():
            gate(*entry.split())
    inputs = sorted(number for channel in CHANNELS for number in channel)
    return build("c432", map(str, inputs), ("223", "329", "370", "421", "430", "431", "432"), gates)
