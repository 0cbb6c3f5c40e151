"""Targets and floors of the figures of a study.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from study.limits import Limit

LIMITS: dict[str, Limit] = {}
