# SPDX-License-Identifier: MIT
"""Takes a SweepRecord, gives it to a reader: a terminal, a page, a file.  Never touches a device."""
