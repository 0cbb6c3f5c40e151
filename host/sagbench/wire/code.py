"""The steps of a pass as a whole: in payloads, and what they do to the chip's power.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections.abc import Iterable, Iterator

from sagbench.wire import numbers
from sagbench.wire.layout import Step


def packed(code: Iterable[Step]) -> Iterator[bytes]:
    """Steps in payloads, none split."""
    payload = b""
    for step in code:
        if len(payload) + len(step.code) > numbers.PAYLOAD_MAX:
            yield payload
            payload = b""
        payload += step.code
    if payload:
        yield payload


def leaves_power(code: Iterable[Step], before: bool) -> bool:
    """True if the chip is powered after these steps."""
    for step in code:
        if step.name in ("power_on", "power_off"):
            before = step.name == "power_on"
    return before


def powers(code: Iterable[Step]) -> bool:
    """True if these steps power the chip at any time."""
    return any(step.name == "power_on" for step in code)
