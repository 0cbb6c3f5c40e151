"""What judges and what simulates meet only on the wire.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import ast
import json
import subprocess
import sys

from rig import ENV, ROOT, virtual_port

HOST = ROOT / "host" / "sagbench"
FORBIDDEN = {"virtual_fixture", "hardware", "protocol", "tests", "rig", "demo"}

WATCHED = """
import json, sys
opened = []
sys.addaudithook(lambda event, args: opened.append(str(args[0])) if event in ("open", "os.listdir", "ctypes.dlopen") else None)
from sagbench.cli.main import main
code = main(sys.argv[1:])
sys.stderr.write(json.dumps(opened))
sys.exit(code)
"""


def imported(path):
    """Top names of all modules that a source file imports."""
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            yield from (alias.name.split(".")[0] for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
            yield node.module.split(".")[0]


def test_the_host_imports_nothing_of_the_simulator_or_the_build():
    guilty = {str(path): found for path in HOST.rglob("*.py") if (found := FORBIDDEN & set(imported(path)))}
    assert not guilty


def test_the_simulator_imports_nothing_of_the_host():
    for path in (ROOT / "tests" / "virtual_fixture").rglob("*.py"):
        assert "sagbench" not in set(imported(path)), path


def test_a_sweep_opens_no_file_of_the_virtual_fixture():
    chip = ROOT / "tests/demo/tired.toml"
    with virtual_port(chip, 3) as port:
        done = subprocess.run([sys.executable, "-c", WATCHED, "sweep", "74LS00", "--port", port, "--json", "-"],
                              env={**ENV, "PYTHONPATH": str(HOST.parent)}, cwd="/", text=True, capture_output=True,
                              timeout=120, check=False)
    opened = json.loads(done.stderr[done.stderr.index("["):])
    assert any(port in name for name in opened), "the watch sees what is opened"
    inside = [name for name in opened if name.startswith(str(ROOT)) and name != str(HOST.parent)
              and not name.startswith((str(HOST), str(ROOT / ".venv")))]
    assert not inside
    assert json.loads(done.stdout)["verdict"] == "not sound"
