"""`sagbench firmware`: the image for the controller board, and how it gets there.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

from sagbench.cli import options, output
from sagbench.errors import EXIT_FIXTURE, UsageError

EXAMPLES = """\
examples:
  sagbench firmware
  sagbench firmware --save sagbench.hex
  sagbench firmware --flash --port /dev/ttyACM0

Put it onto the controller board ALONE, before it is on the fixture: a new board may run a program that drives its pins
against the fixture's. --flash calls avrdude, which most systems have as a package.
"""
# Through the boot loader, which speaks the programmer's protocol at this speed and cannot erase the chip (-D).
BAUD = 115200


def build_parser() -> argparse.ArgumentParser:
    """The verb's own command line."""
    parser = argparse.ArgumentParser(prog="sagbench firmware", epilog=EXAMPLES, formatter_class=options.Help,
                                     description="Show the firmware's image that belongs to this sagbench, save it, or put it onto a controller board.")  # fmt: skip
    parser.add_argument("--save", metavar="FILE", help="write the image (Intel HEX); - for standard output")
    parser.add_argument("--flash", action="store_true", help="put it onto the board at --port, by avrdude")
    options.add_fixture(parser)
    options.add_json(parser)
    return parser


def run(words: Sequence[str]) -> int:
    """Carry out the words behind `firmware`; 0, or 3 if avrdude fails.  Raises UsageError."""
    arguments = build_parser().parse_args(list(words))
    from sagbench import image
    from sagbench.wire.numbers import API_LEVEL

    where = image.path()
    found = image.read(where)
    if arguments.save:
        output.check_targets(arguments.save)
        output.write(arguments.save, where.read_text(encoding="ascii"))
    if arguments.flash:
        return _flash(where, arguments.port or os.environ.get("SAGBENCH_PORT"))
    if arguments.save:
        return 0
    if arguments.json:
        output.write("-", json.dumps({"file": str(where), "controller": image.MCU, "api_level": API_LEVEL, "bytes": found.size, "crc32": f"{found.crc:08x}"}) + "\n")
        return 0
    told = [f"{where}", f"for the {image.MCU}, API level {API_LEVEL}, {found.size} bytes, CRC-32 {found.crc:08x}", "",
            "Put it onto the controller board alone, not yet on the fixture:", "  " + " ".join(_avrdude(Path(image.NAME), "PORT")),
            f"after `sagbench firmware --save {image.NAME}`, or `sagbench firmware --flash --port PORT` in one.",
            "PORT is such as /dev/ttyACM0, /dev/ttyUSB0, COM3. Then: sagbench fixture info"]  # fmt: skip
    output.write("-", "\n".join(told) + "\n")
    return 0


def _avrdude(where: Path, port: str) -> list[str]:
    from sagbench import image

    return ["avrdude", "-p", image.MCU, "-c", "wiring", "-P", port, "-b", str(BAUD), "-D", "-U", f"flash:w:{where}:i"]


def _flash(where: Path, port: str | None) -> int:
    if not port:
        raise UsageError("say which port the controller board is at: --port /dev/ttyACM0.")
    words = _avrdude(where, port)
    if not shutil.which(words[0]):
        raise UsageError(f"avrdude is not installed; install it (Debian: apt-get install avrdude) and try again, or flash {where} by other means.")
    if subprocess.run(words, check=False).returncode:
        print(f"sagbench: avrdude did not put the image onto the board at {port}; its message stands above.", file=sys.stderr)
        return EXIT_FIXTURE
    return 0
