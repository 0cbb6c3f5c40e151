"""The wheel carries all that the command needs: library, fixtures, the firmware's image, the guide.  Installed beside nothing of the checkout.

The environment is made new, outside the checkout, and has no packages of its own but the wheel; what the host needs beside comes by a
.pth file from the environment that the tests run in, so that no index of packages is asked.  With an index, `pipx install ./host` does it.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import json
import os
import shutil
import stat
import subprocess
import sys
import sysconfig
import zipfile
from pathlib import Path

import pytest
from rig import ROOT

from sagbench.cli import guide, main as entry


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Built from a copy, so that nothing is left in the checkout."""
    folder = tmp_path_factory.mktemp("wheel")
    ignored = shutil.ignore_patterns("__pycache__", "*.egg-info", "build", ".mypy_cache", ".ruff_cache")
    shutil.copytree(ROOT / "host", folder / "host", ignore=ignored)
    subprocess.run([sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "--no-build-isolation", "--no-index", "-w", str(folder), str(folder / "host")],
                   check=True, timeout=300)
    made, = folder.glob("sagbench-*.whl")
    return made


@pytest.fixture(scope="module")
def installed(wheel: Path) -> Path:
    """The command in an environment of its own."""
    home = wheel.parent / "env"
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", str(home)], check=True, timeout=120)
    place, = (home / "lib").glob("python3*/site-packages")
    target = ["--target", str(place)]
    subprocess.run([sys.executable, "-m", "pip", "install", "-q", "--no-deps", "--no-index", *target, str(wheel)], check=True, timeout=120)
    # Not `addsitedir`, which would follow the checkout's own .pth file: only the packages in it.
    (place / "needs.pth").write_text(sysconfig.get_paths()["purelib"] + "\n")
    return home / "bin/python"


def run(python: Path, folder: Path, *words: str, **env: str) -> subprocess.CompletedProcess[str]:
    clean = {key: value for key, value in os.environ.items() if not key.startswith(("PYTHON", "SAGBENCH"))}
    return subprocess.run([str(python), "-m", "sagbench", *words], cwd=folder, env={**clean, "HOME": str(folder), **env}, text=True, capture_output=True,
                          timeout=120, check=False)


def test_what_is_in_it(wheel: Path) -> None:
    names = zipfile.ZipFile(wheel).namelist()
    count = sum(name.startswith("sagbench/parts/library/") and name.endswith(".toml") for name in names)
    assert count == len(list((ROOT / "host/sagbench/parts/library").glob("*.toml"))) > 100
    assert {"sagbench/image/sagbench.hex", "sagbench/guide/EVENING.md", "sagbench/fixtures/bench24.json", "sagbench/report/page.css"} <= set(names)
    for page, _ in guide.PAGES.values():
        assert f"sagbench/{page}" in names
    assert not [name for name in names if "__pycache__" in name or not name.startswith("sagbench")]
    kept = {str(path.relative_to(ROOT / "host")) for path in (ROOT / "host/sagbench").rglob("*") if path.is_file()
            and "__pycache__" not in path.parts and path.suffix not in (".pyc",)}
    assert kept <= set(names), sorted(kept - set(names))


def test_it_runs_outside_the_checkout(installed: Path, tmp_path: Path) -> None:
    where = subprocess.run([str(installed), "-c", "import sagbench; print(sagbench.__file__)"], cwd=tmp_path, capture_output=True, text=True, check=True,
                           env={"HOME": str(tmp_path), "PATH": os.environ["PATH"]}).stdout
    assert str(installed.parent.parent) in where
    shown = run(installed, tmp_path, "parts", "show", "7400")
    assert shown.returncode == 0 and "quad 2-input NAND gate" in shown.stdout, shown.stderr
    told = run(installed, tmp_path, "guide")
    assert told.returncode == 0 and told.stdout == guide.text("evening") and "An evening at the bench" in told.stdout
    assert run(installed, tmp_path, "replace", "74H40", "--drives", "Y: 4x 74H00").returncode == 0
    none = run(installed, tmp_path, "sweep", "7400", "--port", "/dev/nowhere")
    assert none.returncode == 3 and "Traceback" not in none.stderr
    helped = run(installed, tmp_path, "--help")
    assert all(verb in helped.stdout for verb in entry.OWN)


def test_the_image_is_the_checkouts_and_is_whole(installed: Path, tmp_path: Path) -> None:
    """avr-objcopy, of the GNU binutils, reads the same bytes out of it."""
    assert run(installed, tmp_path, "firmware", "--save", "saved.hex").returncode == 0
    assert (tmp_path / "saved.hex").read_text() == (ROOT / "host/sagbench/image/sagbench.hex").read_text()      # lines may end otherwise
    subprocess.run(["avr-objcopy", "-I", "ihex", "-O", "binary", str(tmp_path / "saved.hex"), str(tmp_path / "saved.bin")], check=True)
    told = json.loads(run(installed, tmp_path, "firmware", "--json").stdout)
    assert told["bytes"] == (tmp_path / "saved.bin").stat().st_size > 20_000 and told["controller"] == "atmega2560"
    assert str(installed.parent.parent) in told["file"]


def test_it_is_put_onto_a_board_by_avrdude(installed: Path, tmp_path: Path) -> None:
    """A stand-in for avrdude writes down its words; its options as its manual has them (from memory)."""
    stand_in = tmp_path / "bin/avrdude"
    stand_in.parent.mkdir()
    stand_in.write_text(f'#!/bin/sh\necho "$@" > {tmp_path}/words\nexit ${{FAILS:-0}}\n')
    stand_in.chmod(stand_in.stat().st_mode | stat.S_IXUSR)
    path = f"{stand_in.parent}:/usr/bin:/bin"
    assert run(installed, tmp_path, "firmware", "--flash", "--port", "/dev/ttyACM7", PATH=path).returncode == 0
    words = (tmp_path / "words").read_text()
    assert words.startswith("-p atmega2560 -c wiring -P /dev/ttyACM7 -b 115200 -D -U flash:w:/") and words.endswith("sagbench.hex:i\n")
    failed = run(installed, tmp_path, "firmware", "--flash", "--port", "/dev/ttyACM7", PATH=path, FAILS="1")
    assert failed.returncode == 3 and "did not put the image onto the board at /dev/ttyACM7" in failed.stderr
    without = run(installed, tmp_path, "firmware", "--flash", PATH=path)
    assert without.returncode == 2 and "--port" in without.stderr
