"""Small changes made to the host by rule, and whether the tests notice: `python -m mutation`, `make mutation`.

SPDX-License-Identifier: MIT
"""
