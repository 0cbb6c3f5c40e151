"""From a part to passes: which steps the fixture is to carry out, and what each reading of them means.

Pure: no device, no clock.  Knows the part model, the fixture's description and
the step language; knows nothing of volts measured or of verdicts.

    fixture.py   what the derived fixture description says
    seat.py      pins and positions
    drive.py     levels on input pins, within the interlocks
    recipe.py    a pass under construction: steps, and a mark for each reading
    contact.py, power.py, logic.py, loads.py   the passes of a sweep

SPDX-License-Identifier: MIT
"""
