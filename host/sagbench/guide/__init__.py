"""The user's guide, in the wheel.

SPDX-License-Identifier: MIT
"""
