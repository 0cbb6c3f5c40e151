# SPDX-License-Identifier: MIT
"""What the comparison calls the same, over the whole library."""
from host.replace.play import same_play
from sagbench.parts import load_file
from sagbench.parts.lookup import LIBRARY
from sagbench.replace.functions import Form
from sagbench.replace.search import _best


def test_whatever_the_library_calls_the_same_plays_the_same():
    """Every pair of functions in the library that the comparison calls equal, through some random steps each."""
    made = {path.stem: load_file(path) for path in LIBRARY.glob("*.toml")}
    forms = [(name, Form(d, d.pinouts[0])) for name, d in sorted(made.items()) if not d.static and not d.others and not d.pinouts[0].analog]
    pairs = 0
    for index, (name, one) in enumerate(forms):
        for other_name, other in forms[index + 1:]:
            if one.counts == other.counts and len(one.network.states) <= 16:
                best = _best(one, other, name)
                if best and not [d for d in best[1] if d.kind == "logic"]:
                    pairs += 1
                    assert same_play(best[0], pairs, 40), (name, other_name)
    assert pairs > 150
