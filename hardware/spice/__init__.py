"""The fixture in ngspice: `netlist` makes the circuit from the wiring file, `claims` says what must hold, `python -m
hardware.spice` shows it.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""
