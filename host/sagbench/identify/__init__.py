"""What chip is this?  An unmarked, house-numbered or suspicious chip, found in the library by what it does.

    from sagbench.identify.run import identify
    found = identify(device, candidates)       # found.ranked: classes of functions, likeliest first

The way: `candidates` (what the library has) -> `seating` (rails, before power) -> `bench` (patterns and what came of
them) -> `follow` (each candidate's machine along the same patterns) -> `belief` (Bayes) -> `choose` (the next
patterns, by what they are expected to tell) -> `run` -> report.

SPDX-License-Identifier: MIT
"""
