"""The C half of the virtual chips, loaded once.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import ctypes
import os
import subprocess
from functools import cache
from pathlib import Path

HERE = Path(__file__).parent
ROOT = HERE.parents[2]
FIXTURE_LIBRARY = ROOT / "build" / "virtual" / "libvirtual.so"
OWN_LIBRARY = ROOT / "build" / "virtual" / "libchips.so"
NODES = 25

LOGIC = ctypes.CFUNCTYPE(ctypes.c_uint64, ctypes.c_uint32, ctypes.c_int, ctypes.c_double)
Row = ctypes.c_double * NODES
Matrix = Row * NODES
Flags = ctypes.c_ubyte * NODES


class Place(ctypes.Structure):
    """Where a chip's logic is; see struct place in engine.h."""

    _fields_ = [("state", ctypes.c_uint32), ("levels", ctypes.c_uint32), ("asked", ctypes.c_uint64)]


_I, _D, _P, _S = ctypes.c_int, ctypes.c_double, ctypes.c_void_p, ctypes.c_char_p
_DP = ctypes.POINTER(_D)
SIGNATURES: dict[str, tuple[object, list[object]]] = {
    "chip_new": (_P, [_I, _I, LOGIC]),
    "chip_free": (None, [_P]),
    "chip_place": (ctypes.POINTER(Place), [_P]),
    "chip_add_diode": (_I, [_P, _I, _I, _D, _D, _D]),
    "chip_add_resistor": (_I, [_P, _I, _I, _D]),
    "chip_add_switch": (_I, [_P, _I, _I, _I, _D]),
    "chip_add_leak": (_I, [_P, _I, _I, _D, _D, _D]),
    "chip_add_base": (_I, [_P, _I, ctypes.POINTER(_I), _D, _D, _D, _D, _D]),
    "chip_add_through": (_I, [_P, _I, _D, _D, _D, _D]),
    "chip_add_input": (_I, [_P, _I, _I, _D, _D, _D, _I]),
    "chip_add_output": (_I, [_P, _I, _I, _I, _I, _I]),
    "chip_set_output": (_I, [_P, _I, _S, _D]),
    "chip_add_timer": (_I, [_P, _I, _I, _I, _I]),
    "chip_set_timer": (_I, [_P, _I, _S, _D]),
    "chip_set": (_I, [_P, _S, _D]),
    "chip_set_series": (None, [_P, _I, _D]),
    "chip_set_lag": (None, [_P, _I, _D]),
    "chip_add_curve": (_I, [_P, _I, _I, _I, _I, _I, _DP, _DP]),
    "chip_share_curve": (_I, [_P, _I, _I]),
    "chip_output_state": (_I, [_P, _I]),
    "chip_force_state": (None, [_P, _I, _I]),
    "chip_pattern": (_I, [_P, ctypes.POINTER(ctypes.c_uint32)]),
    "chip_currents": (None, [_P, Row, Row, Matrix]),
    "chip_ideal": (_I, [_P, Flags, Row, Row, Row]),
    "chip_ideal_settle": (_I, [_P, Flags, Row, Row, Row, _D]),
    "chip_input_level": (_I, [_P, _I]),
    "chip_settle": (_I, [_P, Row, _D]),
    "chip_overstress": (_I, [_P, Row, Row, ctypes.POINTER(_S), _DP]),
}


def sources() -> list[Path]:
    return sorted([*HERE.glob("*.c"), *HERE.glob("*.h"), HERE.parent / "chip.h"])


def _build_own() -> Path:
    """Compile the chips alone; each process renames its result into place."""
    newest = max(p.stat().st_mtime for p in sources())
    if not OWN_LIBRARY.exists() or OWN_LIBRARY.stat().st_mtime < newest:
        OWN_LIBRARY.parent.mkdir(parents=True, exist_ok=True)
        fresh = OWN_LIBRARY.with_suffix(f".{os.getpid()}.tmp")
        subprocess.run(["gcc", "-std=gnu11", "-O2", "-Wall", "-Wextra", "-fPIC", "-shared",
                        "-o", str(fresh), *(str(p) for p in sources() if p.suffix == ".c"), "-lm"],
                       check=True)
        fresh.replace(OWN_LIBRARY)
    return OWN_LIBRARY


def bind(library: ctypes.CDLL) -> ctypes.CDLL:
    """Declare the chip functions' argument types on a loaded library."""
    for name, (result, arguments) in SIGNATURES.items():
        function = getattr(library, name)
        function.restype, function.argtypes = result, arguments
    return library


@cache
def library() -> ctypes.CDLL:
    """The fixture's library if it is newer than the chips' sources, else the chips alone."""
    newest = max(p.stat().st_mtime for p in sources())
    if FIXTURE_LIBRARY.exists() and FIXTURE_LIBRARY.stat().st_mtime >= newest:
        return bind(ctypes.CDLL(str(FIXTURE_LIBRARY)))
    return bind(ctypes.CDLL(str(_build_own())))
