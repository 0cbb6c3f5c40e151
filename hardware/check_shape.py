"""Has the wiring file every value that it must have, of the right kind, and no other?

Looked at before anything else: what comes after may rely on it.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""
from __future__ import annotations

import difflib
from collections.abc import Callable, Iterator, Mapping
from functools import partial
from typing import Any

from hardware.places import Places

Mistake = tuple[int, str]


def _number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _count(value: Any) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and value >= 0


def _span(value: Any) -> bool:
    """min <= typ <= max, of which only max must be there."""
    if not isinstance(value, dict) or "max" not in value or set(value) - {"min", "typ", "max"}:
        return False
    numbers = [value[end] for end in ("min", "typ", "max") if end in value]
    return all(map(_number, numbers)) and numbers == sorted(numbers)


def _list_of(one: Callable[[Any], bool]) -> Callable[[Any], bool]:
    return lambda value: isinstance(value, list) and bool(value) and all(map(one, value))


def _text(value: Any) -> bool:
    return isinstance(value, str)


# What a value may be -> (test, how a sentence calls it).
KINDS: dict[str, tuple[Callable[[Any], bool], str]] = {
    "text": (_text, "a text"),
    "number": (_number, "a number"),
    "positive": (lambda v: _number(v) and v > 0, "a number above 0"),
    "share": (lambda v: _number(v) and 0 < v < 1, "a share between 0 and 1 (1 % is 0.01)"),
    "count": (_count, "a whole number, 0 or more"),
    "counts": (_list_of(_count), "a list of whole numbers"),
    "texts": (_list_of(_text), "a list of texts"),
    "lines": (lambda v: isinstance(v, list), "a list"),
    "span": (_span, "{ min = .., typ = .., max = .. } in this order of size, max at least"),
    "wide": (lambda v: _span(v) and {"min", "max"} <= set(v), "{ min = .., typ = .., max = .. } in this order of size, min and max at least"),
    "known": (lambda v: _span(v) and {"min", "typ", "max"} == set(v), "{ min = .., typ = .., max = .. } in this order of size"),
    "table": (lambda v: isinstance(v, dict), "a table"),
    "pins": (lambda v: isinstance(v, dict) and all(map(_text, v.values())), "a table of terminal and net"),
    "currents": (lambda v: isinstance(v, dict) and all(map(_number, v.values())), "a table of currents, up and down"),
}

# Table -> its keys as key:kind, `?` where it may be left out.  [[...]] are arrays of tables.
TABLES = {
    "fixture": "name:text title:text revision:count",
    "specimen": "shape:text span_sigmas:positive leak_sigmas:positive",
    "socket": "ref:text positions:positive seating:text sizes:counts",
    "supply": "net:text nominal_v:positive min_v:positive max_v:positive",
    "controller": "ref:text board:text mcu:text clock_hz:positive driver_ohm:known pin_limit_ma:positive pin_test_ma:positive "
                  "total_limit_ma:positive total_budget_ma:positive pull_up_kohm:wide leak_ua:span strap:table wires:table",
    "adc": "bits:positive clock_hz:positive clocks_per_conversion:positive inl_lsb:number absolute_lsb:number noise_lsb:number "
           "sample_pf:positive sample_ohm:wide channels:table aref_nf:positive aref_settle_ms:positive reference:lines",
    "power": "supply_positions:counts ground_positions:counts",
    "interlock": "lease_ms:positive watchdog_ms:positive dead_man_ms:positive strong_unwatched_us:positive verified_pin_ma:positive "
                 "load_outputs:count discharge_ms:positive rail_short_mv:positive trip_ma:positive",
    "kind": "hc4051:table? hc595:table? mcp6004:table? pnp:table? npn:table? lm4040:table? board:table",
    "kind.hc4051": "ron_ohm:known ron_match:share leak_off_ua:span leak_common_ua:span switch_limit_ma:positive on_pf:positive",
    "kind.hc595": "output_ohm:known",
    "kind.mcp6004": "offset_mv:wide output_ohm:known slew_v_per_us:positive",
    "kind.pnp": "beta:known saturation_ohm:known saturation_mv:known leak_na:span",
    "kind.npn": "beta:known saturation_ohm:known saturation_mv:known leak_na:span",
    "kind.lm4040": "dynamic_ohm:positive min_bias_ma:positive",
    "kind.board": "position_pf:positive node_k_pf:positive",
    "controller.strap": "pin:text to:text",
}
ARRAYS = {
    "port_group": "name:text ports:texts limit_ma:positive",
    "adc.reference": "name:text code:count from:text? volts:known?",
    "load_point": "name:text lines:lines load:count nominal_ma:currents?",
    # Which of its values a kind of part must have is for check.py to say.
    "part": "ref:text kind:text role:text each:text? pins:pins? ohm:positive? tolerance:share? nf:positive? volts:positive? type:text? "
            "common:text? channels:texts? outputs:texts? chain:positive? positions:positive? net:text?",
}
WIRE = "port:text net:text"
# Tables whose keys anybody may choose, and what their values are.
FREE = {"lists": "counts", "adc.channels": "count"}


def _get(raw: Mapping[str, Any], path: str) -> Any:
    for key in path.split("."):
        raw = raw.get(key, {}) if isinstance(raw, dict) else {}
    return raw


def _near(word: str, words: list[str]) -> str:
    near = difflib.get_close_matches(word, words, 1)
    return f"do you mean {near[0]}?" if near else f"known are {', '.join(words)}"


def _always(line: int) -> Callable[[str], int]:
    """Every key of an entry is told by the entry's own line."""
    return lambda _: line


def _keys(what: str, shape: str, values: Mapping[str, Any], line: Callable[[str], int]) -> Iterator[Mistake]:
    """Mistakes of one table; `line` says where a key stands."""
    known = {word.split(":")[0]: word.split(":")[1] for word in shape.split()}
    for key, kind in known.items():
        test, called = KINDS[kind.rstrip("?")]
        if key not in values:
            if not kind.endswith("?"):
                yield line(key), f"{what} has no `{key}`; write it, {called}"
        elif not test(values[key]):
            yield line(key), f"{what}: {key} is {values[key]!r}; write {called}"
    for key in values:
        if key not in known:
            yield line(key), f"{what}: `{key}` is nothing of a wiring file; {_near(key, list(known))}"


def shape(raw: Mapping[str, Any], places: Places) -> list[Mistake]:
    """Mistakes of form of a full wiring file: values that are missing, of the wrong kind, or unknown."""
    found: list[Mistake] = []
    tops = [*dict.fromkeys(name.split(".")[0] for name in (*TABLES, *ARRAYS, *FREE))]
    found += [(1, f"there is no [{name}]; the file needs it") for name in tops if name not in raw]
    found += [(places.entry(name), f"[{name}] is nothing of a wiring file; {_near(name, tops)}") for name in raw if name not in tops]
    for table, keys in TABLES.items():
        values = _get(raw, table)
        if not isinstance(values, dict):
            found.append((places.key("", table), f"{table} must be a table, [{table}]"))
        elif "." not in table or table.split(".")[1] in _get(raw, table.split(".")[0]):
            found += _keys(f"[{table}]", keys, values, partial(places.key, table))
    for array, keys in ARRAYS.items():
        entries = _get(raw, array) or []
        if not isinstance(entries, list):
            found.append((places.entry(array), f"{array} must be an array of tables, [[{array}]]"))
            continue
        for index, entry in enumerate(entries):
            name = entry.get("ref", entry.get("name", f"number {index + 1}"))
            found += _keys(f"[[{array}]] {name}", keys, entry, _always(places.entry(array, index)))
            if array == "part" and "{k" in str(name) and "each" not in entry:
                found.append((places.entry(array, index), f"[[part]] {name} has {{k}} but no `each`; say for which list of positions"))
            if array == "adc.reference" and len({"from", "volts"} & set(entry)) != 1:
                found.append((places.entry(array, index), f"[[{array}]] {name}: give `from` (a net) or `volts`, one of them"))
    for table, kind in FREE.items():
        values = _get(raw, table)
        free = " ".join(f"{key}:{kind}" for key in values) if isinstance(values, dict) else ""
        found += _keys(f"[{table}]", free, values if free else {}, partial(places.key, table))
    wires = _get(raw, "controller.wires")
    for pin, wire in wires.items() if isinstance(wires, dict) else ():
        there = places.key("controller.wires", pin)
        found += _keys(f"board pin {pin}", WIRE, wire, _always(there)) if isinstance(wire, dict) else [
            (there, f"board pin {pin} is {wire!r}; write {{ port = \"..\", net = \"..\" }}")]
    return found
