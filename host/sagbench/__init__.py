# SPDX-License-Identifier: MIT
"""Measure old logic chips under load.

    from sagbench.device import Device
    from sagbench.parts import load_part
    from sagbench.sweep import sweep

    with Device.connect() as device:
        record = sweep(device, load_part("74LS04"))

Nothing is imported here, so that a part of it costs no more than itself.
"""
