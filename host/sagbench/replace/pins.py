# SPDX-License-Identifier: MIT
"""How pins are called together: Y for 1Y 2Y 3Y 4Y."""
from __future__ import annotations

import re
from collections.abc import Iterable

_NUMBER = re.compile(r"^\d+(?=\D)|(?<=\D)\d+$")


def bare(name: str) -> str:
    """A pin's name without the number of its gate: Y of 1Y, 2Y and of Y3."""
    return _NUMBER.sub("", name)


def together(names: Iterable[str], every: Iterable[str]) -> str:
    """Names in their order; those of which a part has no others go by their bare name."""
    some, short = list(names), {name: bare(name) for name in every}
    whole = {word for word in short.values() if all(name in some for name, other in short.items() if other == word)}
    return " ".join(dict.fromkeys(short[name] if short[name] in whole else name for name in some))
