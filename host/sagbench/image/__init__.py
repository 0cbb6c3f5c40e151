"""The firmware's image, ready to be put onto a controller board: an Intel HEX file made by `make -C firmware ready`.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from importlib import resources
from pathlib import Path

from sagbench.errors import UsageError

NAME = "sagbench.hex"
MCU = "atmega2560"


@dataclass(frozen=True)
class Image:
    """What is in an Intel HEX file: bytes of code, the CRC-32 of them."""

    size: int
    crc: int


def path() -> Path:
    """Where the image is; packages are installed as files."""
    return Path(str(resources.files(__package__).joinpath(NAME)))


def read(where: Path) -> Image:
    """The image in a file, its lines' checksums compared.  Raises UsageError with the line that is damaged.

    Intel's Hexadecimal Object File Format Specification, revision A, 1988 (from memory): a colon, then in hexadecimal a count, an
    address of two bytes, a type (0 data, 1 the end, 2 and 4 upper address), the data and a checksum that makes the sum zero.
    """
    data, ended = bytearray(), False
    try:
        lines = where.read_text(encoding="ascii").split()
    except (OSError, UnicodeDecodeError) as wrong:
        raise UsageError(f"The firmware's image {where} cannot be read ({wrong}); install sagbench anew.") from None
    for number, line in enumerate(lines, start=1):
        try:
            record = bytes.fromhex(line.removeprefix(":"))
        except ValueError:
            record = b""
        if line[:1] != ":" or len(record) < 5 or len(record) != record[0] + 5 or sum(record) % 256 or ended:
            raise UsageError(f"The firmware's image {where} is damaged in line {number}; install sagbench anew.")
        ended = record[3] == 1
        if record[3] == 0:
            data += record[4:-1]
    if not ended or not data:
        raise UsageError(f"The firmware's image {where} is cut off; install sagbench anew.")
    return Image(len(data), zlib.crc32(data))
