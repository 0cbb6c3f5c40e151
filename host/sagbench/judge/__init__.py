"""From figures to findings, and from findings to a verdict.

    evidence.py all that a sweep has gathered -> the record
    rule.py     one figure against one limit: the decision rule (guard band), after JCGM 106 and ILAC-G8
    risk.py     how likely a verdict is wrong
    rejudge.py  a finished record by another guard band
    limits.py   weights of findings, words for pins, volts and amperes
    contact.py  is the chip seated, which pins are open or shorted
    logic.py    wrong answers, grouped to outputs and put in words
    outputs.py  levels under load, load lines, headroom; sisters.py: beside the other outputs
    inputs.py   input currents, and inputs beside their sisters
    dc.py       thresholds, clamp voltage, short-circuit current
    supply.py   supply current; the output whose level tells a current at rest
    technology.py  bipolar or CMOS, before any output is loaded
    traits.py, fingerprint.py      whose silicon it is, by a small likelihood model
    character.py                   beside the user's own sound specimens: median and MAD
    causes.py, identity.py   from wrong answers to one stuck input, or to the part that would answer so
    case.py, suspect_*.py, diagnosis.py   the likely failure, ranked, with evidence
    bare.py     sentences without causes, where it is rather another part
    verdict.py  all of it together

Pure: takes figures and the part's limits, gives `sagbench.record` values.

SPDX-License-Identifier: MIT
"""
