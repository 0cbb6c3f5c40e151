# SPDX-License-Identifier: MIT
"""`python -m sagbench`."""
import sys

from sagbench.cli.main import main

if __name__ == "__main__":
    sys.exit(main())
