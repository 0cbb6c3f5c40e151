"""Where in the host text could become code, a command or markup: few places, named here, each with its reason.

Reader: Python's own `ast`. Whoever opens another door is asked to write it down, and why nothing from outside can come through.
"""
from __future__ import annotations

import ast
from pathlib import Path

import pytest

from fuzz.tally import ROOT

HOST = ROOT / "host/sagbench"
DOORS = {
    "vectors/compile.py": {"exec", "compile"},         # equations: written anew from their tree, in names of its own (guard.EQUATIONS)
    "cli/main.py": {"import_module"},                  # verbs: keys of its own table
    "cli/completion.py": {"import_module"},            # the same
    "cli/parts/__init__.py": {"import_module"},        # the same
    "cli/firmware.py": {"run"},                        # the flashing program: a list of words, no shell
    "measure/uncertain.py": {"import_module"},         # a module of the package uncertainties, by its name
    "lot/loud.py": {"Popen"},                          # the player of tones: a list of words of its own, no shell
    "wire/guard.py": {"fork"},                         # says hello when the host has died
    "report/frame.py": {"trusted"},                    # the package's own style sheets
    "report/markup.py": {"Markup"},                    # what is escaped there
}
CALLS = {"eval", "exec", "compile", "__import__", "import_module", "system", "popen", "Popen", "run", "call", "check_output", "check_call",
         "fork", "execv", "execve", "spawnv", "loads", "trusted", "Markup", "literal_eval", "run_module", "run_path"}
HARMLESS = {"json", "tomllib", "re", "store", "place"}      # json.loads, tomllib.load, re.compile, our own
MODULES = {"pickle", "marshal", "shelve", "yaml", "ctypes", "subprocess", "socket", "urllib", "http", "webbrowser", "runpy", "code"}
IMPORTS = {"cli/firmware.py": {"subprocess"}, "lot/loud.py": {"subprocess"}}


def calls(tree: ast.AST) -> set[str]:
    """Names of the functions of CALLS that are called: bare, or of a module that is not harmless."""
    found = set()
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        if isinstance(node.func, ast.Name) and node.func.id in CALLS - {"run", "call", "loads"}:
            found.add(node.func.id)
        elif isinstance(node.func, ast.Attribute) and isinstance(node.func.value, ast.Name):
            if node.func.attr in CALLS - {"run"} and node.func.value.id not in HARMLESS:
                found.add(node.func.attr)
            elif node.func.attr == "run" and node.func.value.id in ("subprocess", "asyncio"):
                found.add("run")
    return found


def imports(tree: ast.AST) -> set[str]:
    """Modules of MODULES that are imported."""
    found = set()
    for node in ast.walk(tree):
        names = [a.name for a in node.names] if isinstance(node, ast.Import) else [node.module or ""] if isinstance(node, ast.ImportFrom) and not node.level else []
        found |= {name.split(".")[0] for name in names} & MODULES
    return found


def sources() -> dict[str, ast.AST]:
    """Every file of the host, parsed."""
    return {str(path.relative_to(HOST)): ast.parse(path.read_text(encoding="utf-8")) for path in sorted(HOST.rglob("*.py"))}


def test_doors_are_those_that_are_named() -> None:
    trees = sources()
    assert len(trees) > 200
    assert {name: found for name, tree in trees.items() if (found := calls(tree))} == DOORS
    assert {name: found for name, tree in trees.items() if (found := imports(tree))} == IMPORTS


@pytest.mark.parametrize("source", ["eval(x)", "os.system(x)", "subprocess.run(x)", "pickle.loads(x)", "Markup(x)", "__import__(x)"])
def test_another_door_would_be_seen(source: str, tmp_path: Path) -> None:
    assert calls(ast.parse(source))


def test_another_module_would_be_seen() -> None:
    assert imports(ast.parse("import pickle\nfrom urllib.request import urlopen\nfrom . import code")) == {"pickle", "urllib"}
