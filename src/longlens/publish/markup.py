"""Text into HTML: a dossier may come from a stranger, so nothing of it reaches a page unescaped."""

from __future__ import annotations

import unicodedata
from html import escape


def e(text: object) -> str:
    """Escaped for HTML text and quoted attributes; control characters and half characters become �."""
    plain = "".join(
        c if c in "\n\t" or unicodedata.category(c) not in ("Cc", "Cf", "Cs", "Co") else "\ufffd" for c in str(text)
    )
    return escape(plain, quote=True)
