"""A part that is in no library, learnt from one sound specimen: a draft of its part file.

    learn(specimen, pins)      what it does: laws of its outputs, and what was tried
    draft(learnt, ...)         the part file

SPDX-License-Identifier: MIT
"""
