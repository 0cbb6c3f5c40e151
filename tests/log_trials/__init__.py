"""The log tried by the hundred: killed, damaged, on a disk that is full or fails.  `python -m log_trials kills 1000`.

Each trial has a number, which is its seed; what was tried is kept in build/log_trials, and a run goes on where it was.

SPDX-License-Identifier: MIT
"""
