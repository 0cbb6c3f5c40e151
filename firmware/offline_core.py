"""Lay out what PlatformIO needs to build without a network: `pio run` then uses the system's avr-gcc.

    python firmware/offline_core.py build/pio-core
    PLATFORMIO_CORE_DIR=build/pio-core pio run -d firmware

PlatformIO normally downloads the platform `atmelavr` with its compiler.  On a machine
without its servers (CI) a dozen small files stand in for it: the same names, so that
platformio.ini is the one users have.  Made for platformio 6.2.0 with scons 4.11.1.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import json
import sys
from pathlib import Path

PLATFORM_VERSION = "5.1.0"
SCONS_VERSION = "4.41101.0"
SCONS = "import sys\nfrom SCons.Script.Main import main\nsys.exit(main())\n"
BOARD = {
    "name": "ATmega2560 board, 5 V", "vendor": "generic", "url": "local", "platform": "atmelavr",
    "build": {"mcu": "atmega2560", "f_cpu": "16000000L"},
    "upload": {"maximum_size": 253952, "maximum_ram_size": 8192},
}
# The flags of the real platform's builder for a project without a framework.
BUILDER = '''\
from SCons.Script import AlwaysBuild, Builder, Default, DefaultEnvironment

env = DefaultEnvironment()
board = env.BoardConfig()
env.Replace(AR="avr-gcc-ar", AS="avr-as", CC="avr-gcc", CXX="avr-g++", LINK="avr-gcc", OBJCOPY="avr-objcopy",
            RANLIB="avr-gcc-ranlib", SIZETOOL="avr-size", PROGSUFFIX=".elf", PROGNAME="firmware",
            SIZEPROGREGEXP=r"^(?:\\.text|\\.data|\\.bootloader)\\s+(\\d+).*",
            SIZEDATAREGEXP=r"^(?:\\.data|\\.bss|\\.noinit)\\s+(\\d+).*",
            SIZECHECKCMD="$SIZETOOL -A -d $SOURCES", SIZEPRINTCMD="$SIZETOOL --mcu=$BOARD_MCU -C -d $SOURCES")
mcu = ["-mmcu=" + board.get("build.mcu")]
env.Append(CCFLAGS=mcu + ["-Os", "-ffunction-sections", "-fdata-sections", "-flto"],
           CPPDEFINES=[("F_CPU", board.get("build.f_cpu"))], ASFLAGS=mcu,
           LINKFLAGS=mcu + ["-Os", "-flto", "-Wl,--gc-sections"],
           BUILDERS=dict(ElfToHex=Builder(action=env.VerboseAction(
               "$OBJCOPY -O ihex -R .eeprom $SOURCES $TARGET", "Building $TARGET"), suffix=".hex")))
elf = env.BuildProgram()
hexfile = env.ElfToHex("$BUILD_DIR/${PROGNAME}", elf)
AlwaysBuild(env.Alias("size", elf, env.VerboseAction("$SIZEPRINTCMD", "Calculating size $SOURCE")))
Default([elf, hexfile])
'''


def _installed(kind: str, name: str, version: str) -> str:
    """The note by which PlatformIO knows a package as installed from its own registry."""
    spec = {"owner": "platformio", "id": None, "name": name, "requirements": None, "uri": None}
    return json.dumps({"type": kind, "name": name, "version": version, "spec": spec})


def files() -> dict[str, str]:
    """Path below the core directory -> content."""
    platform = {"name": "atmelavr", "title": "Atmel AVR, the system's compiler", "version": PLATFORM_VERSION,
                "description": "stand-in without a network", "engines": {"platformio": "^6"}, "packages": {}, "frameworks": {}}
    return {
        "packages/tool-scons/package.json": json.dumps({"name": "tool-scons", "version": SCONS_VERSION,
                                                        "description": "stand-in: SCons from PyPI"}),
        "packages/tool-scons/.piopm": _installed("tool", "tool-scons", SCONS_VERSION),
        "packages/tool-scons/scons.py": SCONS,
        "platforms/atmelavr/platform.json": json.dumps(platform),
        "platforms/atmelavr/.piopm": _installed("platform", "atmelavr", PLATFORM_VERSION),
        "platforms/atmelavr/boards/megaatmega2560.json": json.dumps(BOARD),
        "platforms/atmelavr/builder/main.py": BUILDER,
    }


def write(core: Path) -> None:
    """Write all of it below `core`."""
    for name, text in files().items():
        path = core / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit("usage: offline_core.py FOLDER (for example build/pio-core)")
    write(Path(sys.argv[1]))
