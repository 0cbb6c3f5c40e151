"""From figures to findings, and from findings to a verdict.

    limits.py   one figure against one limit, with a guard band of U
    contact.py  is the chip seated, which pins are open or shorted
    logic.py    wrong answers, grouped to outputs and put in words
    outputs.py  levels under load, load lines, headroom, sister outputs
    supply.py   supply current
    verdict.py  all of it together

Pure: takes figures and the part's limits, gives `sagbench.record` values.

SPDX-License-Identifier: MIT
"""
