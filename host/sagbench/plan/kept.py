"""What follows from a part's logic alone is worked out once for it, however many chips of the kind are measured.

    find_captures = kept(find_captures)

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from functools import wraps
from typing import Any, ParamSpec, TypeVar

from sagbench.parts.model import Part

Arguments = ParamSpec("Arguments")
Result = TypeVar("Result")

MOST = 64  # results a function


def kept(function: Callable[Arguments, Result]) -> Callable[Arguments, Result]:
    """The function with its last MOST results kept. Networks among its arguments are told apart by identity, and parts by
    that of their logic test, which families of one pinout share: the function may ask a part for nothing that is its family's
    own. Both are held, so that none takes another's place. Collections are told apart by what is in them; none may be
    changed afterwards.
    """
    results: OrderedDict[tuple[Any, ...], tuple[Any, Result]] = OrderedDict()

    @wraps(function)
    def remembering(*arguments: Arguments.args, **named: Arguments.kwargs) -> Result:
        key = (*map(_key, arguments), *((name, _key(argument)) for name, argument in named.items()))
        if key in results:
            results.move_to_end(key)
            return results[key][1]
        result = function(*arguments, **named)
        results[key] = (arguments, named), result
        if len(results) > MOST:
            results.popitem(last=False)
        return result

    return remembering


def _key(argument: object) -> object:
    if isinstance(argument, Part):
        return id(argument.sequence)
    return tuple(argument) if isinstance(argument, (list, tuple, set, frozenset)) else id(argument)
