"""A box of chips, one after the other: noticed when it is in, measured, kept, told, noticed when it is out.

presence.py is anything in the socket; session.py the order of things; summary.py the box as a whole; loud.py letters and tones
for two metres' distance.

SPDX-License-Identifier: MIT
"""
