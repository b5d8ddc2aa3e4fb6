"""Every word of a page alone, as AppTest holds it: what stands in elements, labels, hints, tables and charts."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator

from google.protobuf.message import Message
from streamlit.testing.v1 import AppTest

_SHOWN = {"body", "label", "help", "placeholder", "options", "content", "text", "title", "header", "tooltip", "delta"}
_CHART = "spec"
_MARKS = re.compile(r":material/\w+:|:[a-z]+(?:-[a-z]+)?\[|\\(?=[^\w\s]|_)|[*`#\[\]\u2060]|</?\w+[^>]*>")


def words_of(at: AppTest) -> list[str]:
    """All texts of a page, line by line, each once, without markup and without what only the browser reads."""
    found: list[str] = []
    for element in at.main:
        proto = getattr(element, "proto", None)
        if isinstance(proto, Message):
            found += _strings(proto)
    for table in at.table:
        found += [str(name) for name in table.value.columns]
        found += [str(cell) for row in table.value.itertuples(index=False) for cell in row]
    lines = (line.strip(" -\u00a0") for text in found for line in _MARKS.sub("", text).splitlines())
    return list(dict.fromkeys(line for line in lines if line))


def _strings(proto: Message) -> Iterator[str]:
    for field, value in proto.ListFields():
        for one in value if field.is_repeated else [value]:
            if isinstance(one, Message):
                yield from _strings(one)
            elif field.name == _CHART:
                yield from _titles(json.loads(one))
            elif field.name in _SHOWN and isinstance(one, str):
                yield one


def _titles(spec: object) -> Iterator[str]:
    """What a chart writes beside its figures."""
    if isinstance(spec, dict):
        for name, value in spec.items():
            if name in ("title", "description") and isinstance(value, str):
                yield value
            else:
                yield from _titles(value)
    elif isinstance(spec, list):
        for value in spec:
            yield from _titles(value)
