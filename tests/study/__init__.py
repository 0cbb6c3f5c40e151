"""Studies over populations of virtual fixtures and chips: are the uncertainties true, are the verdicts right?

They stand between both sides: the host is used as a library, the virtual fixture through its public interface,
and neither sees the other but through the line.

SPDX-License-Identifier: GPL-3.0-or-later
"""
