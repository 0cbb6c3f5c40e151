#!/usr/bin/env python3
"""Set up everything that building and testing needs: Debian packages, then a virtual environment.

Run by `make setup` with the system's python3, so it uses the standard library only.
As root it installs what is missing; otherwise it prints the one line that does.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
STAMP = VENV / ".ready"
ALONE = ROOT / "tests/requirements-alone.txt"
WISHES = [ROOT / "host/pyproject.toml", ROOT / "tests/requirements.txt", ALONE]
OUTSIDE = ROOT / "build/outside"

PACKAGES = {
    "gcc": "builds the virtual fixture and the firmware's PC port",
    "libc6-dev": "its headers",
    "gcc-avr": "compiles the firmware",
    "avr-libc": "its library",
    "libsimavr-dev": "runs the firmware image: the controller of the virtual fixture",
    "libelf-dev": "reads that image",
    "pkg-config": "finds simavr",
    "ngspice": "referees the virtual chips",
    "cppcheck": "reads the firmware for mistakes",
    "kicad-symbols": "referees the pinouts",
    "iverilog": "runs published logic models, referees of the equations",
    "python3-venv": "the environment below",
    "python3-dev": "crcmod compiles its fast half",
}

# What `make fuzz` needs beside, for libFuzzer, and `make -C firmware tidy`.
FUZZ_PACKAGES = {
    "clang": "builds the fuzzer of the firmware's core",
    "libclang-rt-14-dev": "its sanitizers and libFuzzer",
    "clang-tidy": "reads the firmware for mistakes",
}

# Looks at the pages that the program writes; any Chromium that is there already will do (tests/browser.py).
BROWSERS = ("chromium-headless-shell", "chromium", "chromium-browser", "google-chrome")
BROWSER_PACKAGE = {BROWSERS[0]: "opens the reports"}

# What `make board` needs beside: KiCad itself is some 400 MB, and nothing else needs it.
BOARD_PACKAGES = {
    "kicad": "builds the board, checks it, plots it",
    "kicad-footprints": "its bodies and pads",
    "kicad-templates": "referees the places of the controller board's headers",
    "gerbv": "draws the pictures",
}
BOARD_UNPACKED = {"kicad-demos": ("usr/share/kicad/demos/interf_u/interf_u.kicad_sch", "its drawings referee our readers")}

# Debian packages of which only the data are read: unpacked into build/outside, without what the programs in them need.
UNPACKED = {
    "lepton-eda": ("usr/share/lepton-eda/sym/74/7400-1.sym", "its symbols referee the pinouts"),
    "tkgate-data": ("usr/share/tkgate/vlib/74xx.v", "its Verilog models referee the equations"),
}


def missing_packages(wanted: dict[str, str]) -> list[str]:
    """Those that Debian's database does not show as installed."""
    missing = []
    for name in wanted:
        seen = subprocess.run(["dpkg-query", "-W", "-f", "${Status}", name], capture_output=True, text=True, check=False)
        if "install ok installed" not in seen.stdout:
            missing.append(name)
    return missing


def install(names: list[str]) -> None:
    """Install Debian packages as root, or say how and stop."""
    line = "apt-get install -y --no-install-recommends " + " ".join(names)
    if os.geteuid() != 0:
        sys.exit(f"These Debian packages are missing. Install them with this line, then run make again:\n\n  sudo {line}\n")
    print("setup: installing from Debian:", " ".join(names), flush=True)
    quiet = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    for command in (["apt-get", "update", "-qq"], line.split() + ["-qq"]):
        done = subprocess.run(command, env=quiet, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, check=False)
        if done.returncode:
            sys.exit(f"setup: `{' '.join(command)}` failed:\n{done.stdout[-2000:]}")


def fingerprint() -> str:
    """Changes when a wish or the interpreter does, so that a stale environment is made anew."""
    digest = hashlib.sha256(sys.version.encode())
    for path in WISHES:
        digest.update(path.read_bytes())
    return digest.hexdigest()


def environment() -> None:
    """Make .venv and install the host (editable) and the test tools into it."""
    print("setup: python environment in .venv", flush=True)
    if not (VENV / "bin/python").exists():
        subprocess.run([sys.executable, "-m", "venv", str(VENV)], check=True)
    pip = [str(VENV / "bin/python"), "-m", "pip", "install", "-q", "--disable-pip-version-check"]
    done = subprocess.run([*pip, "-e", str(ROOT / "host"), "-r", str(ROOT / "tests/requirements.txt")], check=False)
    alone = subprocess.run([*pip, "--no-deps", "-r", str(ALONE)], check=False)
    if done.returncode or alone.returncode:
        sys.exit("setup: pip could not install the packages named in host/pyproject.toml and tests/requirements*.txt; "
                 "its message stands above. With the network back, run make again.")


def unpack(wanted: dict[str, tuple[str, str]]) -> None:
    """Fetch packages and take their files apart; needs no root, only the package lists of apt."""
    for name, (proof, _) in wanted.items():
        if (OUTSIDE / proof).exists():
            continue
        print(f"setup: {name} from Debian into build/outside", flush=True)
        OUTSIDE.mkdir(parents=True, exist_ok=True)
        fetch = ["apt-get", "download", "-qq", name]
        done = subprocess.run(fetch, cwd=OUTSIDE, stderr=subprocess.PIPE, text=True, check=False)
        if done.returncode and os.geteuid() == 0:      # a fresh machine has no package lists
            subprocess.run(["apt-get", "update", "-qq"], check=False)
            done = subprocess.run(fetch, cwd=OUTSIDE, stderr=subprocess.PIPE, text=True, check=False)
        files = sorted(OUTSIDE.glob(f"{name}_*.deb"))
        if done.returncode or not files:
            sys.exit(f"setup: `{' '.join(fetch)}` failed (run `apt-get update` as root, then make again):\n{done.stderr[-2000:]}")
        subprocess.run(["dpkg-deb", "-x", str(files[-1]), str(OUTSIDE)], check=True)
        for file in files:
            file.unlink()


def main() -> None:
    """Bring the machine to the state the Makefile expects, with `board` or `fuzz` for those too; quick if it is there already."""
    board, fuzz = sys.argv[1:] == ["board"], sys.argv[1:] == ["fuzz"]
    browser = {} if os.environ.get("SAGBENCH_CHROMIUM") or any(map(shutil.which, BROWSERS)) else BROWSER_PACKAGE
    if missing := missing_packages(PACKAGES | browser | (BOARD_PACKAGES if board else FUZZ_PACKAGES if fuzz else {})):
        install(missing)
    if not STAMP.exists() or STAMP.read_text() != fingerprint():
        environment()
        STAMP.write_text(fingerprint())
    unpack(UNPACKED | BOARD_UNPACKED if board else UNPACKED)


if __name__ == "__main__":
    main()
