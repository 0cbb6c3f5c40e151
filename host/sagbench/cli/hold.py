"""`sagbench hold PART`: pins by hand, levels and current live.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence

from sagbench.cli import interrupts, options
from sagbench.cli.soak import seconds

EXAMPLES = """\
examples:
  sagbench hold 7493
  echo "1A high" | sagbench hold 74LS00 --lines

Full screen: arrows choose a pin; h high, l low, H weakly high, L weakly low, o off; c one clock pulse, C ten; p power on
or off; q ends. With --lines, or where there is no terminal, type: `1A high`, `clock CLK 5`, `power`, `off`, `end`, `help`.

The socket's pins are live while the lamp is lit: probe with one hand, do not bridge pins with the tip. A pin that you
short is your short: the fixture takes power away, and says so. So it does within a second when the chip is pulled out or
its supply current is gone (a chip that draws next to nothing: when nothing drives its outputs).

exit codes:
    0  done
    2  the command cannot be carried out as given
    3  the fixture or the link to it failed
    4  not powered, with --lines: the sentence says why
  130  interrupted
"""


def build_parser() -> argparse.ArgumentParser:
    """The verb's own command line."""
    parser = argparse.ArgumentParser(
        prog="sagbench hold", epilog=EXAMPLES, formatter_class=options.Help,
        description="Hold a chip under power, set its pins by hand, watch levels and current; for probing with a meter or a scope.")  # fmt: skip
    parser.add_argument("part", metavar="PART", help="what is printed on the chip")
    options.add_lines(parser)
    parser.add_argument("--idle", metavar="TIME", type=seconds, default=300.0, help="no power after so long without a key (default: 5m)")
    options.add_fixture(parser)
    options.add_library(parser)
    options.add_calibration(parser)
    return parser


def run(words: Sequence[str]) -> int:
    """Carry out the words behind `hold`; 0, or an error of the tree."""
    arguments = build_parser().parse_args(list(words))
    from sagbench.cli import sweep as one_sweep

    part = one_sweep.find_part(arguments.part, arguments.parts_dir)
    with interrupts.held():
        from sagbench.cli import hold_faces
        from sagbench.cli.fixture_calibration import options_for
        from sagbench.device import Device
        from sagbench.hold.hold import Hold
    with Device.connect(arguments.port) as device:
        hold = Hold(device, part, options_for(device.info, without=arguments.no_calibration))
        if arguments.lines or not (sys.stdin.isatty() and sys.stdout.isatty()):
            hold.power()
            hold_faces.by_lines(hold, arguments.idle)
        else:
            hold_faces.full_screen(hold, arguments.idle)
    return 0
