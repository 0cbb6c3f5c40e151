"""A chip held still: pins set by hand, levels and currents watched, for probing with a meter or scope.

hold.py is the chip under power and what may be done to it; words.py what is typed; view.py the 80 x 24 picture.

SPDX-License-Identifier: MIT
"""
