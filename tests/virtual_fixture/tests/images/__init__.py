"""Build the small test images, one a case of probe.c.

SPDX-License-Identifier: GPL-3.0-or-later
"""
import subprocess
from functools import cache
from pathlib import Path

SOURCE = Path(__file__).with_name("probe.c")
OUT = Path(__file__).resolve().parents[4] / "build" / "virtual" / "images"


@cache
def image(case: str) -> Path:
    """The image of one case, built if it is older than its source."""
    elf = OUT / f"{case}.elf"
    if not elf.exists() or elf.stat().st_mtime < SOURCE.stat().st_mtime:
        OUT.mkdir(parents=True, exist_ok=True)
        subprocess.run(["avr-gcc", "-mmcu=atmega2560", "-DF_CPU=16000000UL", f"-DCASE_{case}", "-std=gnu11", "-Os",
                        "-Wall", "-Wno-unused-function", "-o", str(elf), str(SOURCE)], check=True)
    return elf


@cache
def symbols(case: str) -> dict[str, int]:
    """Data addresses by name."""
    listing = subprocess.run(["avr-nm", str(image(case))], capture_output=True, text=True, check=True).stdout
    return {name: int(address, 16) & 0xFFFF for address, _, name in
            (line.split() for line in listing.splitlines() if len(line.split()) == 3)}
