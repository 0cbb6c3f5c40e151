"""Makes the checkout's build-time packages (hardware, protocol) and the tests' own importable."""
import atexit
import os
import shutil
import signal
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import hypothesis
import pytest

ROOT = Path(__file__).resolve().parent.parent
for folder in (ROOT, ROOT / "tests"):
    if str(folder) not in sys.path:
        sys.path.insert(0, str(folder))

# A developer's own settings, part files, calibrations and log have no say in the tests, and the tests none in them.
os.environ["SAGBENCH_PARTS"] = os.environ["SAGBENCH_SETTINGS"] = ""
os.environ["SAGBENCH_DATA"] = tempfile.mkdtemp(prefix="sagbench-tests-")
atexit.register(shutil.rmtree, os.environ["SAGBENCH_DATA"], ignore_errors=True)

# A shell ignores Ctrl-C for what it starts in the background, and so would all programs that the tests start and interrupt.
signal.signal(signal.SIGINT, signal.default_int_handler)

# A machine that is busy with other things must not fail a property by being slow.
hypothesis.settings.register_profile("unhurried", deadline=None)
hypothesis.settings.load_profile("unhurried")


def pytest_configure(config: pytest.Config) -> None:
    """The marks of these tests."""
    config.addinivalue_line("markers", "overstresses: plants what the virtual fixture must see")


@pytest.fixture(autouse=True)
def nothing_overstressed(request: pytest.FixtureRequest) -> Iterator[None]:
    """No virtual fixture that this test closed has seen a pin, a port group, a multiplexer or the chip beyond its ratings.

    A test whose business that is has the mark `overstresses`.  Fixtures in processes of their own end with an exit code of 1 (rig.py).
    """
    yield
    looking = sys.modules.get("virtual_fixture.looking")
    seen = [str(one) for one in looking.SEEN] if looking else []
    if looking:
        looking.SEEN.clear()
    if seen and not request.node.get_closest_marker("overstresses"):
        pytest.fail("the virtual fixture saw trouble:\n" + "\n".join(seen), pytrace=False)
