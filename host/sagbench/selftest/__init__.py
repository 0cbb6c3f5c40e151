"""The fixture tests itself, with an empty socket: `run.selftest(device, fixture, progress)` gives a `findings.Report`.

SPDX-License-Identifier: MIT
"""
