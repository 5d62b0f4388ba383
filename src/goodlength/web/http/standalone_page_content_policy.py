"""Content policy of a page that stands alone in one file, such as a handout."""

from __future__ import annotations

import hashlib
import re
from base64 import b64encode


def handout_policy(text: str, frame_ancestors: str = "'none'") -> str:
    """Return the content policy of a handout: its own style by its sum, and pictures and letters in it.

    The page's usual policy would block all three, since a handout stands alone in one file.
    """
    styles = re.findall(r"<style>(.*?)</style>", text, re.DOTALL)
    sums = (b64encode(hashlib.sha256(style.encode()).digest()).decode() for style in styles)
    allowed = " ".join(f"'sha256-{word_text}'" for word_text in sums) or "'none'"
    return (
        f"default-src 'none'; style-src {allowed}; img-src data:; font-src data:; "
        f"base-uri 'none'; form-action 'none'; frame-ancestors {frame_ancestors}"
    )
