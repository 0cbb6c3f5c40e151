"""What a browser complains of on the program's own pages.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections.abc import Iterable

from browser import Browser
from pages_here import pages


def console() -> Iterable[tuple[str, float, str]]:
    """Console messages, refused and failed requests of every kind of page."""
    with Browser() as browser:
        seen = [browser.look(page) for page, _ in pages().values()]
    yield "html_console_errors", sum(len(page.complaints) for page in seen), "messages"
    yield "html_pages_opened", len(seen), "pages"
