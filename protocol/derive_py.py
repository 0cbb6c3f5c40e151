"""protocol/spec.toml in Python: host/sagbench/wire/numbers.py, messages.py and steps.py.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from protocol.spec import SIZES, Field, Message, Spec, Step

NOTICE = "# Written by `python -m protocol.derive` from protocol/spec.toml: change that, not this.\n" \
         "# SPDX-License-Identifier: MIT\n"
CONSTRUCT = {"u8": "Int8ul", "u16": "Int16ul", "u24": "Int24ul", "u32": "Int32ul",
             "rest": "GreedyBytes", "u16[]": "GreedyRange(construct.Int16ul)"}
PLAIN = {"rest": "bytes", "bytes": "bytes", "u16[]": "tuple[int, ...]"}


def camel(name: str) -> str:
    """pass_begin -> PassBegin."""
    return "".join(word.capitalize() for word in name.split("_"))


def _sentence(text: str) -> str:
    text = text[0].upper() + text[1:]
    return text if text.endswith(".") else text + "."


def _paragraph(text: str, indent: str, width: int = 116) -> str:
    """Text broken into lines, all but the first indented."""
    lines, line = [], ""
    for word in text.split():
        if line and len(indent) + len(line) + 1 + len(word) > width:
            lines.append(line)
            line = word
        else:
            line = f"{line} {word}".strip()
    return f"\n{indent}".join([*lines, line])


def numbers(spec: Spec) -> str:
    """Text of numbers.py: enumerations, sizes, times."""
    frame, crc = spec.frame, spec.frame["crc"]
    head = sum(field.size for field in spec.header)
    out = [NOTICE, '"""Numbers of the wire protocol: sizes, times, enumerations."""\n',
           "from __future__ import annotations\n\nfrom enum import IntEnum, IntFlag\n",
           f"API_LEVEL = {spec.protocol['api_level']}", f"BAUD = {spec.protocol['baud']}\n",
           f"DELIMITER = {frame['delimiter']}", f"HEADER_SIZE = {head}", f"PAYLOAD_MAX = {frame['payload_max']}",
           f"WINDOW = {frame['window']}", f"BURST = {frame['burst']}", f"CRC_NAME = \"{crc['name']}\"", f"CRC_CHECK = 0x{crc['check']:04X}",
           "READING_NONE = 0xFFFF                      # not measured\n"]
    out += [f"{t.name.upper()} = {t.value}".ljust(42) + f"# {t.doc}" for t in spec.timing]
    flags = {f.enum for m in spec.messages for f in m.fields if f.flags}
    for name, values in spec.enums.items():
        base = "IntFlag" if name in flags else "IntEnum"
        out.append(f"\n\nclass {camel(name)}({base}):\n    \"\"\"{_sentence(name.replace('_', ' '))}\"\"\"\n")
        out += [f"    {v.name.upper()} = {v.value}".ljust(30) + f"# {v.doc}" for v in values]
    return "\n".join(out) + "\n"


def _annotation(field: Field) -> str:
    return PLAIN.get(field.kind) or (camel(field.enum) if field.enum else "int")


def _construct(field: Field) -> str:
    return f"construct.{CONSTRUCT[field.kind]}" if field.kind != "bytes" else f"construct.Bytes({field.length})"


def _message(message: Message) -> str:
    out = [f"\n\n@dataclass(frozen=True)\nclass {camel(message.name)}(Message):"]
    out.append(f"    \"\"\"{_paragraph(message.doc, '    ')}\"\"\"\n")
    for field in message.fields:
        unit = f" [{field.unit}]" if field.unit else ""
        out.append(f"    {field.name}: {_annotation(field)}".ljust(36) + f"# {field.doc}{unit}")
    if message.fields:
        out.append("")
    out.append(f"    ID = 0x{message.id:02X}\n    NUMBERED = {message.numbered}")
    out.append(f"    FROM_HOST = {message.sender in ('host', 'both')}\n"
               f"    FROM_DEVICE = {message.sender in ('device', 'both')}")
    parts = ", ".join(f"{f.name}={_construct(f)}" for f in message.fields)
    out.append(_wrapped(f"    LAYOUT = layout({parts})", "                    "))
    kinds = ", ".join(f'"{f.name}": {camel(f.enum)}' for f in message.fields if f.enum)
    if kinds:
        out.append(f"    KINDS = {{{kinds}}}")
    ranges = ", ".join(f'"{f.name}": ({f.low}, {f.high})' for f in message.fields if f.low is not None)
    if ranges:
        out.append(f"    RANGES = {{{ranges}}}")
    return "\n".join(out)


def _wrapped(line: str, indent: str) -> str:
    lines = []
    while len(line) > 118:
        cut = line.rindex(", ", 0, 118) + 1
        lines.append(line[:cut])
        line = indent + line[cut + 1:]
    return "\n".join([*lines, line])


def messages(spec: Spec) -> str:
    """Text of messages.py."""
    enums = sorted({camel(f.enum) for m in spec.messages for f in m.fields if f.enum})
    out = [NOTICE, '"""Messages of the wire protocol."""\n', "from __future__ import annotations\n",
           "from dataclasses import dataclass\n", "import construct  # type: ignore[import-untyped]\n",
           "from sagbench.wire.layout import Message, layout",
           f"from sagbench.wire.numbers import {', '.join(enums)}"]
    out += [_message(m) for m in spec.messages]
    out.append("\n\nBY_ID: dict[int, type[Message]] = {")
    out += [f"    0x{m.id:02X}: {camel(m.name)}," for m in spec.messages]
    out.append("}")
    return "\n".join(out) + "\n"


def _bounds(field: Field, spec: Spec) -> tuple[int, int]:
    if field.enum:
        values = [v.value for v in spec.enums[field.enum]]
        return min(values), max(values)
    if field.low is not None and field.high is not None:
        return field.low, field.high
    return 0, 256 ** SIZES[field.kind] - 1


def _kind(step: Step, spec: Spec) -> str:
    arguments = "".join(f'\n        Argument("{f.name}", {SIZES[f.kind]}, {low}, {high}),'
                        for f in step.fields for low, high in [_bounds(f, spec)])
    used = [f.name for f in step.fields if f.name in step.readings.replace("(", " ").replace(")", " ").split()]
    function = f"lambda {', '.join([*used, '**_'])}: {step.readings}"
    body = f"({arguments}\n    )" if arguments else "()"
    return f'    StepKind("{step.name}", 0x{step.code:02X}, {body}, {function}),'


def _function(step: Step, spec: Spec) -> str:
    parameters = ", ".join(f"{f.name}: {_annotation(f)}" for f in step.fields)
    out = [f"def {step.name}({parameters}) -> Step:"]
    out[0] = "\n\n" + _wrapped(out[0], " " * (5 + len(step.name)))
    out.append(f"    \"\"\"{_paragraph(step.doc, '    ')}")
    if step.fields:
        out.append("")
    for f in step.fields:
        low, high = _bounds(f, spec)
        unit = f" {f.unit}" if f.unit else ""
        top = f"0x{high:X}" if high > 0xFFFF else str(high)
        out.append(f"    {f.name}: {f.doc}" + (f" ({camel(f.enum)})" if f.enum else f" ({low}..{top}{unit})"))
    if step.readings != "0":
        out.append(f"\n    Readings: {step.readings}.")
    single = len(out) == 2
    out[-1] += '"""' if single else '\n    """'
    values = ", ".join(f"{f.name}={f.name}" for f in step.fields)
    out.append(_wrapped(f"    return KINDS[0x{step.code:02X}].make({values})", " " * 28))
    return "\n".join(out)


def steps(spec: Spec) -> str:
    """Text of steps.py."""
    enums = sorted({camel(f.enum) for s in spec.steps for f in s.fields if f.enum})
    out = [NOTICE, '"""Steps of a pass: one function each, giving a Step with `.code` and `.readings`.\n\n'
           "An argument out of its range is a ValueError.  A bit of a mask is a position, bit 0 = position 1.\n\"\"\"\n",
           "from __future__ import annotations\n",
           "from sagbench.wire.layout import Argument, Step, StepKind, bits, split",
           f"from sagbench.wire.numbers import {', '.join(enums)}\n", "KINDS = ("]
    out += [_kind(s, spec) for s in spec.steps]
    out.append(")")
    out += [_function(s, spec) for s in spec.steps]
    out.append('\n\ndef parse(code: bytes) -> list[Step]:\n    """Step codes back into steps. '
               'Raises ValueError at what is no step."""\n    return split(code, KINDS)')
    return "\n".join(out) + "\n"
