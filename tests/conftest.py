"""Makes the checkout's build-time packages (hardware, protocol) and the tests' own importable."""
import os
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
for folder in (ROOT, ROOT / "tests"):
    if str(folder) not in sys.path:
        sys.path.insert(0, str(folder))

# A developer's own part files have no say in the tests.
os.environ["SAGBENCH_PARTS"] = ""
