"""From codes to volts, amperes and ohms, each with its uncertainty.

    model.py    one place for every physical relation and every uncertainty component
    contact.py  forward drops and shorts of the unpowered chip
    line.py     an output's load line, and its value at a rated current

Pure: takes readings, gives figures; knows no limits and no verdicts.

SPDX-License-Identifier: MIT
"""
