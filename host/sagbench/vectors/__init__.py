"""Test vectors: made from a part's equations, and known by what they find.

    complete.completed(definition, pinout, base)   the logic test with what it lacked; kept in additions.json, else searched
    report.report_on(part).lines()                 what a part's logic test finds, what it misses and why
    generate.generate(netlist)                     tests for a gate netlist, as few as can be
    march.ram_steps(pins)                          a march test on the pins of a memory

Two ways meet here.  Gates: netlist (lines, faults, collapsing) -> faultsim (one bit a pattern) -> search (a test or the
proof that there is none) -> cover (the fewest).  Parts: compile (equations to bitwise Python) -> lanes (one fault a bit) ->
pinfaults (stuck, open, bridged, inside) -> moves (what may be done in a step) -> sequence (search) -> coverage, proof.

No solver is needed on the user's machine: the library's additions are committed, and a user's own part is
searched in some tenths of a second when it is loaded.

SPDX-License-Identifier: MIT
"""
