"""Text from people as plain text: where a page element reads Markdown, nothing in a name may become markup."""

from __future__ import annotations

import re
import string

_MOST = 80
_JOINER = "\u2060"  # takes no room; parts what would be made a link, an icon or a typographical mark after parsing
_MARK = re.compile(f"[{re.escape(string.punctuation)}]")
# Looked for in finished text: arrows and dashes, :icons: and addresses. A lone hyphen, as in a code, stays untouched.
_SEEN_LATER = re.compile(r"(?<=[-<>~=])(?=[-=<>])|(?<=:)(?=[\w+/\\-])|(?<=\w@)(?=\w)")
_BLANKS = re.compile(r" +")
_KEPT = "\u00a0\u202f"  # blanks inside a figure, where no line may break
_WWW = re.compile(r"www(?=\.)", re.IGNORECASE)


def shortened(text: str, most: int = _MOST) -> str:
    """A text on one line, cut where it is longer than a label may be.

    >>> shortened("plum  jam\\n(ripe)"), shortened("x" * 200, most=5)
    ('plum jam (ripe)', 'xxxx…')
    """
    line = _BLANKS.sub(" ", "".join(c if c.isprintable() or c in _KEPT else " " for c in text)).strip()
    return line if len(line) <= most else line[: most - 1].rstrip() + "…"


def plain(text: str, most: int = 600) -> str:
    """A text that Markdown shows as it is: every mark escaped, on one line, not endless.

    >>> plain("2 * 3"), plain("<b>plum</b>").replace("\\u2060", "")
    ('2 \\\\* 3', '\\\\<b\\\\>plum\\\\<\\\\/b\\\\>')
    """
    line = shortened(text, most)
    parted = _WWW.sub(lambda m: m[0] + _JOINER, _SEEN_LATER.sub(_JOINER, line))
    return _MARK.sub(lambda m: f"\\{m[0]}", parted)
