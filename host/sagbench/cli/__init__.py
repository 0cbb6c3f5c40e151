# SPDX-License-Identifier: MIT
"""The command line: words in, one exit code out.  One file a verb; what a verb needs is imported when it runs."""
