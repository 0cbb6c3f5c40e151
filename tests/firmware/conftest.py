"""Worlds and hosts for the tests of the firmware's core on the PC."""
from __future__ import annotations

import subprocess
from collections.abc import Iterator

import pytest

from .host import Host
from .world import BUILD, LIBRARIES, ROOT, World


def pytest_configure(config: pytest.Config) -> None:
    """`-m "not image"` leaves out what runs the AVR image in the simulator."""
    config.addinivalue_line("markers", "image: runs the AVR image")


@pytest.fixture(scope="session", autouse=True)
def built() -> None:
    """The libraries and the image are current."""
    if LIBRARIES == BUILD:
        subprocess.run(["make", "-s", "-C", str(ROOT / "firmware"), "pc", "elf"], check=True)


@pytest.fixture
def world() -> Iterator[World]:
    """A world in which the main loop never stands still and never two multiplexers are on."""
    made = World()
    yield made
    assert not made.hurt, made.hurt
    assert made.lib.port_pc_watchdog_gap_ns() < 3_000_000, "the main loop stood still"


@pytest.fixture
def host(world: World) -> Host:
    """A host in a session with a device that has booted."""
    return Host(world)
