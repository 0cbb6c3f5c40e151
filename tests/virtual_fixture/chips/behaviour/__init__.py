"""Logic of the parts, one readable class each, entered under the part's number.

Every module of this folder is read: a new one needs no word here.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from importlib import import_module
from pkgutil import iter_modules

from .model import OFF, PARTS, Part, key_parts, part_of

for _module in sorted(module.name for module in iter_modules(__path__)):
    import_module(f"{__name__}.{_module}")

__all__ = ["OFF", "PARTS", "Part", "key_parts", "part_of"]
