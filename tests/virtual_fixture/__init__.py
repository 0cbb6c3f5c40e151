"""The virtual fixture: the real firmware in a simulator, with the whole circuit around it.

SPDX-License-Identifier: GPL-3.0-or-later
"""
