"""protocol/spec.toml as a page to read: protocol/REFERENCE.md.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from protocol.spec import Field, Message, Spec, Step


def _where(field: Field) -> str:
    parts = []
    if field.enum:
        parts.append(f"[{field.enum}](#{field.enum})" + (", flags" if field.flags else ""))
    if field.low is not None:
        parts.append(f"{field.low}..{field.high}")
    if field.unit:
        parts.append(field.unit)
    return ", ".join(parts)


def _kind(field: Field) -> str:
    return f"{field.length} bytes" if field.kind == "bytes" else field.kind


def _table(fields: tuple[Field, ...]) -> str:
    lines = ["| at | field | type | values | what |", "|---|---|---|---|---|"]
    at = 0
    for field in fields:
        lines.append(f"| {at} | {field.name} | {_kind(field)} | {_where(field)} | {field.doc} |")
        at += field.size
    return "\n".join(lines) + "\n"


def _drawing(spec: Spec) -> str:
    cells = [f.name for f in spec.header] + ["payload", "crc hi", "crc lo"]
    widths = [max(6, len(c) + 2) for c in cells]
    widths[len(spec.header)] = 20
    rule = "+" + "+".join("-" * w for w in widths) + "+"
    row = "|" + "|".join(c.center(w) for c, w in zip(cells, widths, strict=True)) + "|"
    sizes = " " + " ".join(s.center(w) for s, w in zip(
        ["1"] * len(spec.header) + [f"0..{spec.frame['payload_max']}", "1", "1"], widths, strict=True))
    covered = sum(widths[:len(spec.header) + 1]) + len(spec.header)
    return "\n".join(["```", rule, row, rule, sizes + "   bytes",
                      "|<" + "the CRC covers these".center(covered - 2, "-") + ">|",
                      "|<" + "COBS turns all of it into bytes other than 00".center(len(rule) - 4, "-") + ">|  then 00",
                      "```"])


def _rules(text: str) -> str:
    """The comment of spec.toml on how the streams work."""
    start = text.index("# How the two streams work")
    lines = []
    for line in text[start:].splitlines():
        if not line.startswith("# ") or line.startswith("# ---"):
            break
        lines.append(line[2:])
    return "\n".join(["", *lines[1:], ""])


def _message(message: Message) -> str:
    kind = "numbered" if message.numbered else "unnumbered"
    sender = {"host": "host to device", "device": "device to host", "both": "both ways"}[message.sender]
    table = "\n" + _table(message.fields) if message.fields else "\nNo payload.\n"
    return f"### {message.name}, 0x{message.id:02X}\n\n{sender}, {kind}. {message.doc}\n{table}"


def _step(step: Step) -> str:
    readings = "" if step.readings == "0" else f" Readings: `{step.readings}`."
    return f"### step {step.name}, 0x{step.code:02X}\n\n{step.doc}{readings}\n" + (
        "\n" + _table(step.fields) if step.fields else "")


def reference(spec: Spec, text: str) -> str:
    """Text of REFERENCE.md; `text` is that of spec.toml, for its comments."""
    crc = spec.frame["crc"]
    out = [f"<!-- Written by `python -m protocol.derive` from protocol/spec.toml: change that, not this. -->\n"
           f"# {spec.protocol['name']}, API level {spec.protocol['api_level']}\n",
           f"Serial line, {spec.protocol['baud']} Bd, 8 data bits, no parity, 1 stop bit. "
           f"Numbers are {spec.protocol['byte_order']}-endian but for the CRC.\n", "## Frame\n", _drawing(spec) + "\n",
           _table(spec.header),
           f"CRC: {crc['name']}, polynomial 0x{crc['poly']:04X}, initial value 0x{crc['init']:04X}, not reflected, no final "
           f"exclusive-or, high byte first; of the text \"123456789\" it is 0x{crc['check']:04X} (CRC RevEng catalogue). COBS: Cheshire and "
           "Baker, \"Consistent Overhead Byte Stuffing\", IEEE/ACM Transactions on Networking 7(2), 1999.\n",
           "## Streams\n" + _rules(text), "### Times\n\n| name | ms | what |\n|---|---|---|"]
    out += [f"| {t.name.removesuffix('_ms')} | {t.value} | {t.doc} |" for t in spec.timing]
    out.append("\n## Messages\n")
    out += [_message(m) for m in spec.messages]
    out.append("## Steps\n\nA step is its code byte and its arguments. Each position has a medium line M and a strong line S.\n\n"
               "| code | step | bytes of arguments | readings |\n|---|---|---|---|")
    out += [f"| {s.code:02X} | [{s.name}](#step-{s.name}-0x{s.code:02x}) | {s.length} | {s.readings} |" for s in spec.steps]
    out.append("")
    out += [_step(s) for s in spec.steps]
    out.append("## Enumerations\n")
    for name, values in spec.enums.items():
        out.append(f"### {name}\n\n| value | name | what |\n|---|---|---|")
        out += [f"| {v.value} | {v.name} | {v.doc} |" for v in values]
        out.append("")
    return "\n".join(out).rstrip() + "\n"


