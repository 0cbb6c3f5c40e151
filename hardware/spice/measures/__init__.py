"""One function for each kind of claim: a simulated fixture in, the figure of the claim out.

`MEASURES` has them by the name that the table calls them.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""
from hardware.spice.measures import deadman, drive, leakage, power, reference, reversed_chip, settling, trip

MEASURES = {name: function
            for room in (drive, power, trip, deadman, settling, reference, leakage, reversed_chip)
            for name, function in vars(room).items()
            if not name.startswith("_") and getattr(function, "__module__", "") == room.__name__}
