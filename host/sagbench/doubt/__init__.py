# SPDX-License-Identifier: MIT
"""A chip answers wrongly: is it the chip, or the definition it was tested against?

    observed.py     what each output did in each step, out of a kept record
    statements.py   each statement of a part file: line, text, which outputs it reaches
    suspects.py     single mistakes of a definition and single faults of a chip
    reasoning.py    which of them explain every answer, right and wrong; what that says

A definition that is wrong in one place is wrong in every copy of a gate alike, and gives clean levels; a chip
breaks in one place.  So both are tried, one at a time, and the ones that contradict nothing are told.

    reason(part, definition, lines(path, "LS"), observed(part, record)).leaning
"""
