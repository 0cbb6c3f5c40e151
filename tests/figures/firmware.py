"""What the firmware takes of the controller: flash, static RAM, and the deepest the stack has been.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import subprocess
from collections.abc import Iterator

from rig import ROOT, sagbench, virtual_port

IMAGE = ROOT / "build/firmware/sagbench.elf"
RAM_BYTES = 8192           # ATmega2560 data sheet


def sections() -> dict[str, int]:
    """Section sizes of the image in bytes, by avr-size."""
    done = subprocess.run(["avr-size", "-A", str(IMAGE)], text=True, capture_output=True, check=True)
    rows = (line.split() for line in done.stdout.splitlines())
    return {row[0]: int(row[1]) for row in rows if len(row) == 3 and row[0].startswith(".")}


def static_ram() -> int:
    """Bytes of RAM that are taken before main() starts."""
    size = sections()
    return size.get(".data", 0) + size.get(".bss", 0) + size.get(".noinit", 0)


def sizes() -> Iterator[tuple[str, float, str]]:
    """Flash and static RAM of the image."""
    size = sections()
    yield "flash_bytes", size[".text"] + size.get(".data", 0), "bytes"
    yield "ram_static_bytes", static_ram(), "bytes"


def stack() -> Iterator[tuple[str, float, str]]:
    """High-water mark of the stack after a sweep, from the paint that is left (device state `stack_free`)."""
    from sagbench.device import Device
    with virtual_port(ROOT / "tests/demo/tired.toml", 5) as port:
        sagbench("sweep", "74LS00", "--port", port, "--quiet")
        with Device.connect(port) as device:
            free = device.state().stack_free
    yield "stack_peak_bytes", RAM_BYTES - static_ram() - free, "bytes"
