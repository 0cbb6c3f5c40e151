"""The one error of wiring files.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""


class WiringError(ValueError):
    """The wiring file says something that cannot be; the text says what, where and what to do."""
