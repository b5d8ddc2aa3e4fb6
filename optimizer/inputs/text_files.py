"""Bytes of a text file → text: UTF-8 with or without mark, UTF-16, Windows-1252."""

from __future__ import annotations

import codecs

MOST_BYTES = 20_000_000

_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),  # before UTF-16: its mark begins with the same two bytes
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


class UnreadableError(ValueError):
    """The file cannot be read; `str(error)` says what to do, `line` where if it is known."""

    def __init__(self, cure: str, *, line: int | None = None) -> None:
        super().__init__(cure)
        self.line = line


def decoded(raw: bytes) -> str:
    """The text of a file, whichever of the usual encodings it is in.

    Raises
    ------
    UnreadableError
        The bytes are no text.

    Examples
    --------
    >>> decoded("Äpfel".encode("utf-16")), decoded("Äpfel".encode("cp1252")), decoded("Äpfel".encode("utf-8-sig"))
    ('Äpfel', 'Äpfel', 'Äpfel')
    """
    encodings = [next((name for mark, name in _MARKS if raw.startswith(mark)), "")] if raw else []
    if encodings == [""]:
        head = raw[:4096]
        if head[1::2].count(0) > len(head) // 4:
            encodings = ["utf-16-le"]
        elif head[::2].count(0) > len(head) // 4:
            encodings = ["utf-16-be"]
        else:
            encodings = ["utf-8", "cp1252"]
    for encoding in encodings:
        try:
            text = raw.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\0" not in text:
            return text
    if not raw:
        return ""
    raise UnreadableError("this is no text in UTF-8, UTF-16 or Windows-1252; save it as CSV (UTF-8) or XLSX")
