"""Makes the checkout's build-time packages (hardware, protocol) and the tests' own importable."""
import atexit
import os
import shutil
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
for folder in (ROOT, ROOT / "tests"):
    if str(folder) not in sys.path:
        sys.path.insert(0, str(folder))

# A developer's own settings, part files, calibrations and log have no say in the tests, and the tests none in them.
os.environ["SAGBENCH_PARTS"] = os.environ["SAGBENCH_SETTINGS"] = ""
os.environ["SAGBENCH_DATA"] = tempfile.mkdtemp(prefix="sagbench-tests-")
atexit.register(shutil.rmtree, os.environ["SAGBENCH_DATA"], ignore_errors=True)
