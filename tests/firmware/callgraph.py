"""Worst-case stack of the image, from its machine code: each function's depth at each call, the deepest path of calls.

    python -m firmware.callgraph build/firmware/sagbench.elf       # the path, function by function

avr-gcc 5.4 has no -fcallgraph-info, and link-time optimization moves code between functions anyway, so the disassembly is
followed: pushes, `rcall .+0` (three bytes of room), and the frame pointer Y set from SP and SP from it. Sizes after the
"AVR Instruction Set Manual": a call leaves 3 bytes on the ATmega2560 (22-bit program counter), so does an interrupt.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

RETURN_BYTES = 3
_FUNCTION = re.compile(r"^([0-9a-f]+) <(.+)>:$")
_LINE = re.compile(r"^\s*([0-9a-f]+):\t((?:[0-9a-f]{2} )+)\s*\t?(\S+)(?:\t([^;]*))?(?:;\s*(.*))?")
_TARGET = re.compile(r"0x([0-9a-f]+)")
_ENDS = ("ret", "reti")
_SKIPS = ("cpse", "sbrc", "sbrs", "sbic", "sbis")
INDIRECT = ("icall", "eicall")
JUMPS = ("ijmp", "eijmp")
TABLE = "__tablejump2__"


class NotUnderstood(ValueError):
    """Machine code that this reader cannot follow; the text says where."""


@dataclass(frozen=True)
class Instruction:
    """One of them, `size` bytes long. target: address in bytes that it names, or None."""

    at: int
    size: int
    name: str
    words: str
    target: int | None


@dataclass
class Function:
    """A function, and how deep its stack is: at most, and at each call (callee's name, "*" for a pointer)."""

    name: str
    code: list[Instruction]
    most: int = 0
    calls: dict[str, int] = field(default_factory=dict)


def disassembled(image: Path) -> list[Function]:
    """All functions of an image, by avr-objdump."""
    text = subprocess.run(["avr-objdump", "-d", "-j", ".text", str(image)], capture_output=True, text=True, check=True).stdout
    found: list[Function] = []
    for line in text.splitlines():
        if head := _FUNCTION.match(line):
            found.append(Function(head[2], []))
        elif (one := _LINE.match(line)) and found:
            target = _TARGET.search(one[5] or "") if one[3].startswith(("br", "r", "j", "c")) else None
            found[-1].code.append(Instruction(int(one[1], 16), len(one[2].split()), one[3], (one[4] or "").strip(), int(target[1], 16) if target else None))
    return [f for f in found if f.code]


@dataclass(frozen=True)
class _State:
    """depth: bytes on the stack; frame: the depth that Y stands for, None while it is no frame pointer."""

    depth: int = 0
    frame: int | None = None


def _number(words: str) -> int:
    return int(words.split(",")[1].strip(), 0)


class _Reader:
    """Follows one function along all its ways."""

    def __init__(self, function: Function, starts: Mapping[int, str]) -> None:
        self.function, self.starts = function, starts
        self.place = {one.at: n for n, one in enumerate(function.code)}
        self.states: dict[int, _State] = {}
        self.low = 0                          # of a constant that is being taken from Y

    def read(self) -> None:
        """Fill in `most` and `calls`."""
        self.follow(0, _State())
        while (late := next((n for n in range(len(self.function.code)) if n not in self.states and self.tables), None)) is not None:
            self.follow(late, self.tables)    # reached through a table of jumps, at the depth of that jump
        self.function.most = max(s.depth for s in self.states.values())

    tables: _State | None = None

    def follow(self, start: int, state: _State | None) -> None:
        assert state is not None
        waiting = [(start, state)]
        while waiting:
            at, before = waiting.pop()
            if at == len(self.function.code):      # runs into the next one: a label of the compiler's library
                self.call(self.starts[self.following(at - 1)], before.depth)
                continue
            if at in self.states:
                if self.states[at].depth != before.depth:
                    raise NotUnderstood(f"{self.function.name}: two depths at {self.function.code[at].at:#x}")
                continue
            self.states[at] = before
            after, ways = self.step(at, before)
            waiting += [(way, after) for way in ways]

    def call(self, name: str, depth: int) -> None:
        self.function.calls[name] = max(self.function.calls.get(name, 0), depth)

    def leave(self, one: Instruction, depth: int) -> list[int]:
        """A jump: within the function, or into another one, which then returns for this one."""
        assert one.target is not None
        if one.target in self.place:
            return [self.place[one.target]]
        name = self.starts.get(one.target)
        if name is None:
            raise NotUnderstood(f"{self.function.name}: {one.name} into the midst of another function at {one.at:#x}")
        if name == TABLE:
            self.tables = self.states[self.place[one.at]]
        else:
            self.call(name, depth)
        return []

    def step(self, at: int, state: _State) -> tuple[_State, list[int]]:
        """State behind an instruction, and where the way goes on."""
        one, depth, frame = self.function.code[at], state.depth, state.frame
        ahead = [at + 1]
        if one.name == "push":
            depth += 1
        elif one.name == "pop":
            depth -= 1
        elif one.name == "rcall" and one.target == self.following(at):
            depth += RETURN_BYTES
        elif one.name in ("call", "rcall"):
            self.call(self.starts[one.target] if one.target in self.starts else f"?{one.target}", depth + RETURN_BYTES)
        elif one.name in INDIRECT:
            self.call("*", depth + RETURN_BYTES)
        elif one.name in JUMPS:
            self.tables, ahead = state, []
        elif one.name in _ENDS:
            if depth:
                raise NotUnderstood(f"{self.function.name}: returns at depth {depth} at {one.at:#x}")
            ahead = []
        elif one.name in ("jmp", "rjmp"):
            ahead = self.leave(one, depth)
        elif one.name.startswith("br") and one.name != "break":
            ahead += self.leave(one, depth)
        elif one.name in _SKIPS:
            ahead.append(at + 2)
        else:
            depth, frame = self.frame(one, depth, frame)
        return _State(depth, frame), ahead

    def following(self, at: int) -> int:
        """Address behind an instruction."""
        return self.function.code[at].at + self.function.code[at].size

    def frame(self, one: Instruction, depth: int, frame: int | None) -> tuple[int, int | None]:
        """The frame pointer taken from SP, moved, and put back."""
        words = one.words.replace(" ", "")
        if words.startswith("r28,0x3d") and one.name == "in":
            return depth, depth
        if frame is None:
            return depth, None
        if one.name in ("sbiw", "adiw") and words.startswith("r28,"):
            return depth, frame + _number(words) * (1 if one.name == "sbiw" else -1)
        if one.name == "subi" and words.startswith("r28,"):
            self.low = _number(words)
        elif one.name == "sbci" and words.startswith("r29,"):
            taken = _number(words) << 8 | self.low
            return depth, frame + (taken - 0x10000 if taken & 0x8000 else taken)
        elif one.name == "out" and words == "0x3d,r28":
            return frame, frame
        return depth, frame


@dataclass(frozen=True)
class Path_:
    """The deepest way down from a function: bytes, and (function, bytes at its call of the next) from the top."""

    size: int
    way: tuple[tuple[str, int], ...]


class Graph:
    """Who calls whom at which depth.

    pointers: (callers, callees) as regular expressions: who may be called through a pointer there. Every place with a call
    through a pointer must be named once, and every function whose address is taken by somebody.
    """

    def __init__(self, image: Path, pointers: Iterable[tuple[str, str]] = ()) -> None:
        functions = disassembled(image)
        starts = {f.code[0].at: f.name for f in functions}
        self.functions = {f.name: f for f in functions}
        self.image = image
        waiting = ["main", *(name for name in self.functions if name.startswith("__vector_"))]
        self.pointers, self.taken, used = tuple(pointers), self.addresses_taken(), set[str]()
        reached: set[str] = set()
        while waiting:                        # what start-up code does before main is behind, and not followed
            if (name := waiting.pop()) not in reached:
                reached.add(name)
                function = self.functions[name]
                _Reader(function, starts).read()
                used |= self.through_pointers(function)
                waiting += function.calls
        if left := self.taken - used:
            raise NotUnderstood(f"the address of {sorted(left)} is taken, and nothing says who calls them")
        self._known: dict[str, Path_] = {}

    def through_pointers(self, function: Function) -> set[str]:
        """Put the functions that may be called in place of its calls through a pointer; which they are."""
        if "*" not in function.calls:
            return set()
        depth = function.calls.pop("*")
        callees = {name for callers, names in self.pointers if re.fullmatch(callers, function.name)
                   for name in self.taken if re.fullmatch(names, name)}
        if not callees:
            raise NotUnderstood(f"{function.name} calls through a pointer, and nothing says whom")
        for name in callees:
            function.calls[name] = max(function.calls.get(name, 0), depth)
        return callees

    def addresses_taken(self) -> set[str]:
        """Functions whose word address stands in data, or is put together by two `ldi`."""
        words = {f.code[0].at // 2: f.name for f in self.functions.values() if f.code[0].at and not f.name.startswith("__")}
        found = set()
        for section in (".data", ".rodata"):
            dump = subprocess.run(["avr-objdump", "-s", "-j", section, str(self.image)], capture_output=True, text=True, check=False).stdout
            data = bytes.fromhex("".join("".join(m[1].split()) for m in re.finditer(r"^ [0-9a-f]+ ((?:[0-9a-f]{2,8} ){1,4})", dump, re.M)))
            found |= {words[w] for i in range(0, len(data) - 1) if (w := data[i] | data[i + 1] << 8) in words}
        for function in self.functions.values():
            high: dict[int, int] = {}
            for one in function.code:
                if one.name == "ldi":
                    register, value = int(one.words[1:].split(",")[0]), _number(one.words)
                    high[register] = value
                    if register % 2 and (w := value << 8 | high.get(register - 1, 0)) in words:
                        found.add(words[w])
        return found

    def deepest(self, name: str, above: tuple[tuple[str, int], ...] = ()) -> Path_:
        """The deepest way down from a function. above: (function, its depth at the call) on the way to it.

        Raises NotUnderstood if it can come to itself again, but by jumps that take no stack: those are loops.
        """
        if name in (names := [one for one, _ in above]):
            if any(depth for _, depth in above[names.index(name):]):
                raise NotUnderstood(f"recursion: {' -> '.join((*names, name))}")
            return Path_(0, ())
        if name not in self._known:
            function = self.functions[name]
            best = Path_(function.most, ((name, function.most),))
            for callee, depth in function.calls.items():
                below = self.deepest(callee, (*above, (name, depth)))
                if depth + below.size > best.size:
                    best = Path_(depth + below.size, ((name, depth), *below.way))
            self._known[name] = best
        return self._known[name]

    def interrupts(self) -> list[Path_]:
        """Of each interrupt routine, with the return address; none lets another one in (no `sei` in them)."""
        found = []
        for name, function in self.functions.items():
            if name.startswith("__vector_"):
                if any(one.name == "sei" for one in function.code):
                    raise NotUnderstood(f"{name} lets other interrupts in")
                below = self.deepest(name)
                found.append(Path_(below.size + RETURN_BYTES, below.way))
        return found

    def worst(self) -> tuple[Path_, Path_]:
        """(the main program from its start, the deepest interrupt): together the most the stack can be."""
        down = self.deepest("main")
        return Path_(down.size + RETURN_BYTES, down.way), max(self.interrupts(), key=lambda path: path.size)


# Who may be called through a pointer: from core/steps.c (the table of steps), core/session.c (the link's hooks; what
# power_turn calls between its looks), and step_until() of core/executor.c.
POINTERS = (
    (r"some_phases.*", r"step_do_.*"),
    (r"main", r"on_hello.*|on_halt.*|on_frame.*|executor_glance.*"),
    (r"executor_turn.*", r"(?!step_do_|on_hello|on_halt|on_frame|executor_glance).*"),
)


def main() -> int:
    """Print the deepest way."""
    worst, interrupt = Graph(Path(sys.argv[1]), POINTERS).worst()
    for name, depth in (*worst.way, *interrupt.way):
        print(f"{depth:5} {name}")
    print(f"{worst.size} and {interrupt.size} in an interrupt: {worst.size + interrupt.size} bytes")
    return 0


if __name__ == "__main__":
    sys.exit(main())
