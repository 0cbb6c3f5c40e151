"""Files spoilt the way people, editors and disks spoil them, and the way somebody who means harm would.

`spoil(seed, number)` is the same on every run. Text is cut, doubled, retyped; values become others of the wrong kind or
beyond any range; JSON is changed as a tree too.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import json
import random
import re
from collections.abc import Callable
from typing import Any

VALUES = ("true", "false", '""', "''", "-1", "0", "1e400", "nan", "-inf", "9" * 40, "9" * 5000, "0x" + "f" * 5000, "0x7fffffffffffffff", "1e-320", "[]",
          "[[]]", "{}", "{a = {b = {}}}", '"' + "x" * 5000 + '"', "1979-05-27", "1979-05-27T07:32:00Z", '"\\u0000"', '"\\u202e"',
          '"\\ud800"', "null", "-0.0", "65536", "4294967296", "3", "[1, 2, 3]", '["a", 1]', '"0"', "1_000", "0b101")
HARM = ("<script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "'; DROP TABLE chip; --", "../../../../etc/passwd", "/etc/passwd",
        "__import__('os').system('touch PWNED')", "$(touch PWNED)", "`touch PWNED`", "{0.__class__.__mro__}", "%s%s%n", "\x1b[31m", "\u202e",
        "\ufeff", "javascript:alert(1)", "A.__class__", "lambda: 0", "x" * 3000, "A" + " | A" * 400, "(" * 300, "!" * 3000, "\U0001f4a9",
        "file:///etc/passwd", "~root", "\\\\server\\share", "con", "\0", "&lt;b&gt;", "]]>", "<!--", "{{7*7}}", "1A; import os", "..", "*")
WORD = re.compile(r"[A-Za-z_][A-Za-z_0-9]*")
NUMBER = re.compile(r"(?<![\w.])-?\d+(?:\.\d+)?(?:[eE]-?\d+)?(?![\w.])")
STRING = re.compile(r'"[^"\n]*"')
Change = Callable[[random.Random, str], str]


def _lines(chance: random.Random, text: str) -> tuple[list[str], int]:
    lines = text.split("\n")
    return lines, chance.randrange(len(lines))


def drop_line(chance: random.Random, text: str) -> str:
    lines, at = _lines(chance, text)
    return "\n".join(lines[:at] + lines[at + 1:])


def double_line(chance: random.Random, text: str) -> str:
    lines, at = _lines(chance, text)
    return "\n".join(lines[:at] + [lines[at]] + lines[at:])


def move_line(chance: random.Random, text: str) -> str:
    lines, at = _lines(chance, text)
    lines.insert(chance.randrange(len(lines)), lines.pop(at))
    return "\n".join(lines)


def double_block(chance: random.Random, text: str) -> str:
    lines, at = _lines(chance, text)
    many = chance.choice((2, 3, 50))
    some = lines[at:at + chance.randint(1, 12)]
    return "\n".join(lines[:at] + some * many + lines[at:])


def cut_short(chance: random.Random, text: str) -> str:
    return text[:chance.randrange(len(text) + 1)]


def cut_out(chance: random.Random, text: str) -> str:
    at = chance.randrange(len(text) + 1)
    return text[:at] + text[at + chance.choice((1, 2, 10, 200)):]


def one_letter(chance: random.Random, text: str) -> str:
    at = chance.randrange(len(text) + 1)
    return text[:at] + chance.choice(" \"'[]{}=,.\n\t\0#<&!|^?:;-+0aZ\u00b5\u2028\U0001f4a9\x7f") + text[at + chance.randint(0, 1):]


def _replace(chance: random.Random, text: str, pattern: re.Pattern[str], by: str) -> str:
    found = list(pattern.finditer(text))
    if not found:
        return text + by
    one = chance.choice(found)
    return text[:one.start()] + by + text[one.end():]


def other_number(chance: random.Random, text: str) -> str:
    return _replace(chance, text, NUMBER, chance.choice(("0", "-1", "1", "24", "25", "255", "256", "1e9", "1e308", "1e400", "-5", "0.0001",
                                                         "9" * 400, "9" * 5000, "0x" + "f" * 5000, "2.5", "99999")))


def other_word(chance: random.Random, text: str) -> str:
    words = WORD.findall(text)
    return _replace(chance, text, WORD, chance.choice(words)) if words else text


def misspelt_word(chance: random.Random, text: str) -> str:
    words = [w for w in WORD.findall(text) if len(w) > 2]
    if not words:
        return text
    word = chance.choice(words)
    at = chance.randrange(len(word) - 1)
    return text.replace(word, word[:at] + word[at + 1] + word[at] + word[at + 2:], 1)


def other_value(chance: random.Random, text: str) -> str:
    return _replace(chance, text, re.compile(r"(?<=[=:] )[^\n]+"), chance.choice(VALUES))


def harmful_string(chance: random.Random, text: str) -> str:
    return _replace(chance, text, STRING, json.dumps(chance.choice(HARM), ensure_ascii=chance.random() < 0.5))


def harm_in_a_string(chance: random.Random, text: str) -> str:
    found = list(STRING.finditer(text))
    if not found:
        return text + chance.choice(HARM)
    one = chance.choice(found)
    at = chance.randint(one.start() + 1, one.end() - 1)
    return text[:at] + chance.choice(HARM) + text[at:]


def nesting(chance: random.Random, text: str) -> str:
    deep = chance.choice((50, 500, 5000))
    opening, closing = chance.choice((("[", "]"), ("{a=", "}"), ('{"a":', "}"), ("(", ")")))
    return _replace(chance, text, re.compile(r"(?<=[=:] )[^\n]+"), opening * deep + chance.choice(("1", "", '"x"')) + closing * deep)


def much(chance: random.Random, text: str) -> str:
    return text + chance.choice(("\n", " ", "#", "x", "\n[[block]]", "\na = 1", '"', "'''")) * chance.choice((100, 3000))


def twice(chance: random.Random, text: str) -> str:
    return text + chance.choice(("", "\n")) + text


def as_it_was(chance: random.Random, text: str) -> str:
    return text


CHANGES: tuple[Change, ...] = (drop_line, double_line, move_line, double_block, cut_short, cut_out, one_letter, other_number, other_word,
                               misspelt_word, other_value, harmful_string, harm_in_a_string, nesting, much, twice, as_it_was)


def _binary(chance: random.Random, text: str) -> bytes:
    data = bytearray(text.encode("utf-8", "surrogatepass"))
    what = chance.randrange(9)
    if what == 0:
        return chance.randbytes(chance.choice((1, 100, 5000)))
    if what == 1:
        return b""
    if what == 2:
        return text.encode("utf-16", "surrogatepass")
    if what == 3:
        return b"\xef\xbb\xbf" + bytes(data)
    if what == 4:
        return text.encode("latin-1", "replace") + b"\xe4\xff"
    if what == 5:
        return bytes(data).replace(b"\n", b"\r\n")
    if what == 6:
        return bytes(data).replace(b"\n", b"\r")
    if what == 7:
        return b"\0" * chance.choice((512, 4096)) + bytes(data)
    for _ in range(chance.choice((1, 1, 8))):
        if data:
            data[chance.randrange(len(data))] ^= 1 << chance.randrange(8)
    return bytes(data)


def _places(tree: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    found = [path] if path else []
    for key, value in tree.items() if isinstance(tree, dict) else enumerate(tree) if isinstance(tree, list) else ():
        found += _places(value, (*path, key))
    return found


def _tree(text: str) -> tuple[Any, list[tuple[Any, ...]]] | None:
    """The tree of a JSON text and the paths to all its values; None: no JSON."""
    try:
        tree = json.loads(text)
    except (ValueError, RecursionError):
        return None
    return tree, _places(tree)


def _holder(tree: Any, path: tuple[Any, ...]) -> tuple[Any, Any]:
    """The dictionary or list that holds the value at a path, and the value's key in it."""
    *above, key = path
    for step in above:
        tree = tree[step]
    return tree, key


def change_tree(chance: random.Random, text: str, indent: int | None = 1) -> str:
    """JSON with one value dropped, renamed or of another kind; what is no JSON stays."""
    read = _tree(text)
    if read is None:
        return text
    tree, places = read
    if not places:
        return chance.choice(("[]", "{}", "null", "1", '"x"'))
    holder, key = _holder(tree, chance.choice(places))
    what = chance.randrange(4)
    if what == 0:
        del holder[key]
    elif what == 1 and isinstance(holder, dict):
        holder[str(key) + chance.choice(("x", "_", " ", "\n"))] = holder.pop(key)
    elif what == 2:
        holder[key] = [holder[key]] if chance.random() < 0.5 else {"x": holder[key]}
    else:
        holder[key] = chance.choice((None, True, -1, 0, 10 ** 30, 1e308, "", "x" * 5000, [], {}, [None], float("nan"), float("inf"), chance.choice(HARM)))
    return json.dumps(tree, indent=indent, ensure_ascii=chance.random() < 0.5)


def graft(chance: random.Random, text: str, indent: int | None = 1) -> str:
    """JSON with one value in the place of another, or beside it in its list; what is no JSON stays."""
    read = _tree(text)
    if read is None:
        return text
    tree, places = read
    if len(places) < 2:
        return text
    to, key = _holder(tree, chance.choice(places))
    source, last = _holder(tree, chance.choice(places))
    value = json.loads(json.dumps(source[last]))       # a copy: a tree must not hold itself
    if isinstance(to, list) and chance.random() < 0.3:
        to.insert(key, value)
    else:
        to[key] = value
    return json.dumps(tree, indent=indent, ensure_ascii=False)


def spoil(seed: bytes, name: str, number: int) -> bytes:
    """The `number`th spoilt form of a file; `name` separates the series of different files."""
    chance = random.Random(f"{name} {number}")
    text = seed.decode()
    is_json = text.lstrip().startswith(("{", "[")) and name.endswith("json")
    for _ in range(chance.choice((1, 1, 1, 2, 3))):
        change = change_tree if is_json and chance.random() < 0.6 else chance.choice(CHANGES)
        text = change(chance, text)
    return _binary(chance, text) if chance.random() < 0.12 else text.encode("utf-8", "surrogatepass")
