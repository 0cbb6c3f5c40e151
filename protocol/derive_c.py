"""protocol/spec.toml in C: firmware/gen/protocol.h and protocol.c.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from protocol.spec import TAILS, Field, Message, Spec, Step

PREFIX = {"ack_reason": "ACK", "line_level": "LINE", "reference": "REF", "source": "SOURCE",
          "fault": "FAULT", "event_kind": "EVENT", "pass_status": "PASS"}
C_TYPE = {"u8": "uint8_t", "u16": "uint16_t", "u24": "uint32_t", "u32": "uint32_t"}
TOP = {"u8": 0xFF, "u16": 0xFFFF, "u24": 0xFFFFFF, "u32": 0xFFFFFFFF}
NOTICE = "/* Written by `python -m protocol.derive` from protocol/spec.toml: change that, not this.\n" \
         " * SPDX-License-Identifier: MIT */\n"

HELPERS = """
/* Little-endian numbers at any address. */
static inline uint8_t wire_get_u8(const uint8_t *at) { return at[0]; }
static inline uint16_t wire_get_u16(const uint8_t *at) { return (uint16_t)(at[0] | ((uint16_t)at[1] << 8)); }
static inline uint32_t wire_get_u24(const uint8_t *at) { return wire_get_u16(at) | ((uint32_t)at[2] << 16); }
static inline uint32_t wire_get_u32(const uint8_t *at) { return wire_get_u24(at) | ((uint32_t)at[3] << 24); }
static inline void wire_put_u8(uint8_t *at, uint8_t value) { at[0] = value; }
static inline void wire_put_u16(uint8_t *at, uint16_t value)
{
    at[0] = (uint8_t)value;
    at[1] = (uint8_t)(value >> 8);
}
static inline void wire_put_u24(uint8_t *at, uint32_t value)
{
    wire_put_u16(at, (uint16_t)value);
    at[2] = (uint8_t)(value >> 16);
}
static inline void wire_put_u32(uint8_t *at, uint32_t value)
{
    wire_put_u24(at, value);
    at[3] = (uint8_t)(value >> 24);
}
"""

BITS = """
static inline uint8_t bits(uint32_t mask)
{
    uint8_t count = 0;
    for (; mask; mask &= mask - 1)
        count++;
    return count;
}
"""


def _enum(name: str, entries: list[tuple[str, str, str]]) -> str:
    width = max(len(key) for key, _, _ in entries)
    lines = [f"    {key:<{width}} = {value},  /* {doc} */" for key, value, doc in entries]
    return f"enum {name} {{\n" + "\n".join(lines) + "\n};\n"


def _struct(name: str, fields: tuple[Field, ...]) -> str:
    lines = []
    for field in fields:
        if field.tail:
            continue
        unit = f", {field.unit}" if field.unit else ""
        what = f"uint8_t {field.name}[{field.length}]" if field.kind == "bytes" else f"{C_TYPE[field.kind]} {field.name}"
        lines.append(f"    {what};  /* {field.doc}{unit} */")
    return f"struct {name} {{\n" + "\n".join(lines) + "\n};\n"


def _fixed(fields: tuple[Field, ...]) -> bool:
    return any(not field.tail for field in fields)


def _pack(name: str, fields: tuple[Field, ...]) -> str:
    body, at = [], 0
    for field in fields:
        if field.tail:
            continue
        if field.kind == "bytes":
            body.append(f"    memcpy(to + {at}, from->{field.name}, {field.length});")
        else:
            body.append(f"    wire_put_{field.kind}(to + {at}, from->{field.name});")
        at += field.size
    return (f"uint8_t {name}_pack(uint8_t *to, const struct {name} *from)\n{{\n" + "\n".join(body)
            + f"\n    return {at};\n}}\n")


def _range(field: Field) -> str:
    tests = []
    if field.low:
        tests.append(f"to->{field.name} >= {field.low}")
    if field.high is not None and field.high < TOP[field.kind]:
        tests.append(f"to->{field.name} <= {field.high}")
    return " && ".join(tests)


def _enum_range(field: Field, spec: Spec) -> str:
    if not field.enum or field.flags:
        return ""
    values = sorted(v.value for v in spec.enums[field.enum])
    tests = [f"to->{field.name} >= {values[0]}"] if values[0] else []
    return " && ".join([*tests, f"to->{field.name} <= {values[-1]}"])


def _unpack(name: str, fields: tuple[Field, ...], spec: Spec | None) -> str:
    """`spec` given: check ranges too (steps)."""
    body, tests, at = [], [], 0
    for field in fields:
        if field.tail:
            continue
        if field.kind == "bytes":
            body.append(f"    memcpy(to->{field.name}, from + {at}, {field.length});")
        else:
            body.append(f"    to->{field.name} = wire_get_{field.kind}(from + {at});")
        at += field.size
        if spec:
            tests += [test for test in (_range(field), _enum_range(field, spec)) if test]
    result = " && ".join(tests)
    if not spec:
        return f"void {name}_unpack(struct {name} *to, const uint8_t *from)\n{{\n" + "\n".join(body) + "\n}\n"
    return (f"bool {name}_unpack(struct {name} *to, const uint8_t *from)\n{{\n" + "\n".join(body)
            + f"\n    return {result or 'true'};\n}}\n")


def _constants(spec: Spec) -> str:
    frame, crc = spec.frame, spec.frame["crc"]
    head = sum(field.size for field in spec.header)
    raw = head + frame["payload_max"] + 2
    pairs = [("PROTOCOL_API_LEVEL", spec.protocol["api_level"], ""),
             ("PROTOCOL_BAUD", f"{spec.protocol['baud']}UL", ""),
             ("FRAME_DELIMITER", frame["delimiter"], ""), ("FRAME_WINDOW", frame["window"], ""),
             ("FRAME_BURST", frame["burst"], "bytes of numbered frames under way from the host at most"),
             ("FRAME_PAYLOAD_MAX", frame["payload_max"], ""), ("FRAME_HEADER_SIZE", head, "")]
    at = 0
    for field in spec.header:
        pairs.append((f"FRAME_{field.name.upper()}", at, "offset: " + field.doc))
        at += field.size
    pairs += [("FRAME_CRC_SIZE", 2, "big-endian, behind the payload"),
              ("FRAME_CRC_POLY", f"0x{crc['poly']:04X}U", crc["name"]), ("FRAME_CRC_INIT", f"0x{crc['init']:04X}U", ""),
              ("FRAME_CRC_CHECK", f"0x{crc['check']:04X}U", 'of the text "123456789"'),
              ("FRAME_RAW_MIN", head + 2, "bytes before COBS"), ("FRAME_RAW_MAX", raw, "bytes before COBS"),
              ("FRAME_WIRE_MAX", raw + (raw + 253) // 254 + 1, "bytes on the wire, delimiter counted"),
              ("READING_NONE", "0xFFFFU", "not measured")]
    pairs += [(f"TIMING_{t.name.upper()}", f"{t.value}U", t.doc) for t in spec.timing]
    return "\n".join(f"#define {name} {value}" + (f"  /* {doc} */" if doc else "") for name, value, doc in pairs) + "\n"


def _needs_pack(message: Message) -> bool:
    return _fixed(message.fields)


def header(spec: Spec) -> str:
    """Text of protocol.h."""
    out = [NOTICE, "#ifndef SAGBENCH_GEN_PROTOCOL_H\n#define SAGBENCH_GEN_PROTOCOL_H\n\n#include <stdbool.h>\n#include <stdint.h>\n",
           _constants(spec)]
    out.append("/* Messages. */")
    out.append(_enum("message_id", [(f"MSG_{m.name.upper()}", f"0x{m.id:02X}", m.doc) for m in spec.messages]))
    out.append("/* Steps of a pass. */")
    out.append(_enum("step_code", [(f"STEP_{s.name.upper()}", f"0x{s.code:02X}", s.doc) for s in spec.steps]))
    out.append(f"#define STEP_COUNT {len(spec.steps)}\n"
               f"#define STEP_SIZE_MAX {1 + max(s.length for s in spec.steps)}  /* code and arguments */\n")
    for name, values in spec.enums.items():
        out.append(_enum(name, [(f"{PREFIX[name]}_{v.name.upper()}", str(v.value), v.doc) for v in values]))
    out.append(HELPERS.lstrip())
    out.append("/* Message payloads without their tails; a tail (steps.code, readings.sums) begins at MSG_..._FIXED.\n"
               " * pack: write the fixed part, return its size. unpack: read it; the length has been checked by msg_length_ok. */")
    for m in spec.messages:
        out.append(f"#define MSG_{m.name.upper()}_FIXED {m.fixed}")
        if _needs_pack(m):
            out.append(_struct(f"msg_{m.name}", m.fields))
            out.append(f"uint8_t msg_{m.name}_pack(uint8_t *to, const struct msg_{m.name} *from);\n"
                       f"void msg_{m.name}_unpack(struct msg_{m.name} *to, const uint8_t *from);\n")
    out.append(_header_tables(spec))
    return "\n".join(out)


def _header_tables(spec: Spec) -> str:
    out = ["/* What a message id is; 0 if unknown. */", "#define MSG_NUMBERED 0x01U\n#define MSG_FROM_HOST 0x02U\n"
           "#define MSG_FROM_DEVICE 0x04U", "uint8_t msg_flags(uint8_t id);",
           "/* True if a payload of that length can be that message. */",
           "bool msg_length_ok(uint8_t id, uint8_t length);\n",
           "/* Step arguments. `from` points behind the code byte; false if an argument is out of its range. */"]
    for s in spec.steps:
        if s.fields:
            out.append(_struct(f"step_{s.name}", s.fields))
            out.append(f"bool step_{s.name}_unpack(struct step_{s.name} *to, const uint8_t *from);\n")
    out.append("/* Bytes of the arguments, by step code. */\nextern const uint8_t step_length[STEP_COUNT];\n"
               "/* Readings that the step at `step` (code and whole arguments) gives when it succeeds. */\n"
               "uint8_t step_readings(const uint8_t *step);\n\n#endif\n")
    return "\n".join(out)


def _readings(step: Step) -> str:
    if step.readings.isdigit():
        return f"    case STEP_{step.name.upper()}:\n        return {step.readings};\n"
    expression, at = step.readings, 1
    for field in step.fields:
        expression = expression.replace(f"({field.name}", f"(wire_get_{field.kind}(step + {at})")
        at += field.size
    return f"    case STEP_{step.name.upper()}:\n        return (uint8_t)({expression});\n"


def _flags(message: Message) -> str:
    flags = ["MSG_NUMBERED"] if message.numbered else []
    flags += ["MSG_FROM_HOST"] if message.sender in ("host", "both") else []
    flags += ["MSG_FROM_DEVICE"] if message.sender in ("device", "both") else []
    return " | ".join(flags)


def _length(message: Message) -> str:
    if not message.tail:
        return f"length == {message.fixed}"
    item = TAILS[message.tail.kind]
    tests = ["length <= FRAME_PAYLOAD_MAX"] + ([f"length >= {message.fixed}"] if message.fixed else [])
    tests += [f"(length - {message.fixed}) % {item} == 0"] if item > 1 else []
    return " && ".join(tests)


def source(spec: Spec) -> str:
    """Text of protocol.c."""
    out = [NOTICE, '#include "protocol.h"\n\n#include <string.h>\n']
    for m in spec.messages:
        if _needs_pack(m):
            out += [_pack(f"msg_{m.name}", m.fields), _unpack(f"msg_{m.name}", m.fields, None)]
    cases = "".join(f"    case MSG_{m.name.upper()}:\n        return {_flags(m)};\n" for m in spec.messages)
    out.append(f"uint8_t msg_flags(uint8_t id)\n{{\n    switch (id) {{\n{cases}    default:\n        return 0;\n    }}\n}}\n")
    cases = "".join(f"    case MSG_{m.name.upper()}:\n        return {_length(m)};\n" for m in spec.messages)
    out.append("bool msg_length_ok(uint8_t id, uint8_t length)\n{\n    switch (id) {\n"
               f"{cases}    default:\n        return false;\n    }}\n}}\n")
    out += [_unpack(f"step_{s.name}", s.fields, spec) for s in spec.steps if s.fields]
    lengths = "\n".join(f"    {s.length},  /* {s.name} */" for s in spec.steps)
    out.append(f"const uint8_t step_length[STEP_COUNT] = {{\n{lengths}\n}};\n{BITS}")
    cases = "".join(_readings(s) for s in spec.steps if s.readings != "0")
    out.append(f"uint8_t step_readings(const uint8_t *step)\n{{\n    switch (step[0]) {{\n{cases}    default:\n"
               "        return 0;\n    }\n}\n")
    return "\n".join(out)
