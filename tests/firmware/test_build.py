"""Makefile and platformio.ini build the same, and a user's plain `pio run` works (here without a network)."""
from __future__ import annotations

import os
import shlex
import subprocess
import sys
from pathlib import Path

from .world import ROOT

FIRMWARE = ROOT / "firmware"
NOT_SHARED = {"-DF_CPU=16000000UL"}          # PlatformIO has it from the board


def pio_config() -> tuple[list[str], set[str], list[str]]:
    """Flags, sources and unwanted flags, by PlatformIO's own reading of its file."""
    from platformio import fs
    from platformio.project.config import ProjectConfig
    config = ProjectConfig(str(FIRMWARE / "platformio.ini"))
    flags = [w for line in config.get("env:bench24", "build_flags") for w in shlex.split(line)]
    sources = fs.match_src_files(str(FIRMWARE), config.get("env:bench24", "build_src_filter"), ["c", "S"])
    return flags, set(sources), config.get("env:bench24", "build_unflags")


def make_variable(name: str) -> list[str]:
    """A variable of firmware/Makefile, expanded."""
    show = f"include Makefile\nshow-it:\n\t@echo $({name})\n"
    return subprocess.run(["make", "-s", "-f", "-", "show-it"], input=show, cwd=FIRMWARE, check=True, text=True,
                          capture_output=True).stdout.split()


def test_same_flags_and_sources() -> None:
    flags, sources, unwanted = pio_config()
    assert [f for f in make_variable("FLAGS") if f not in NOT_SHARED] == flags
    assert set(make_variable("SOURCES")) == sources
    assert unwanted == ["-Os"]


def test_pio_run(tmp_path: Path) -> None:
    core = tmp_path / "core"
    subprocess.run([sys.executable, str(FIRMWARE / "offline_core.py"), str(core)], check=True)
    env = {**os.environ, "PLATFORMIO_CORE_DIR": str(core), "PLATFORMIO_SETTING_ENABLE_TELEMETRY": "no",
           "PLATFORMIO_WORKSPACE_DIR": str(tmp_path / "work")}
    env.pop("LD_PRELOAD", None)
    done = subprocess.run([sys.executable, "-m", "platformio", "run", "-d", str(FIRMWARE)], env=env, text=True,
                          capture_output=True, timeout=300, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "SUCCESS" in done.stdout and "warning" not in (done.stdout + done.stderr).lower()
    image = tmp_path / "work/build/bench24/firmware.elf"
    symbols = subprocess.run(["avr-nm", str(image)], text=True, capture_output=True, check=True).stdout
    assert " T main" in symbols
    assert image.with_suffix(".hex").stat().st_size > 10_000
