"""What the program below the pages can say to people: sentence templates, read from its syntax trees.

Only modules that a page reaches by its imports speak on a page. What they write into files stays English in every
language, so that a file reads alike wherever it is brought in. Of the rest everything with words in it is a sentence,
but for what the rules here take out: docstrings, names that a type lists, keys, faults of programmers, SQL.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterable, Iterator, Sequence
from functools import cache
from pathlib import Path

import optimizer

PACKAGE = Path(optimizer.__file__).parent
_PAGES = Path(__file__).parent
_NOT_PAGES = {"catalogue.py", "spoken.py"}
_FILES_OUT = ("exports/", "services/tables_out.py", "services/buying_sheets.py", "services/offers_sheet.py")
_PHYSICS = "physics/"
_OF_PROGRAMMERS = {"AssertionError", "IndexError", "KeyError", "LookupError", "RuntimeError", "TypeError", "ValueError"}
_NOT_SPEAKING = {
    "compile",
    "text",
    "execute",
    "CheckConstraint",
    "require_range",
    "fullmatch",
    "match",
    "search",
    "sub",
}
_CODE = {"kind", "header", "numeric"}  # keyword arguments that take the name of something
_WORDS = re.compile(r"[A-Za-z]{2,} [A-Za-z{]|\} [A-Za-z]{2}|[a-z]{2}[:.] \{")
_NOT_FOR_PEOPLE = re.compile(r"^(read|after|list of|see) |\.csv$|\\")
_BLANK = re.compile(r"\{\w*\}")


def program_templates() -> list[str]:
    """The templates of all modules that speak on a page, sorted, each once."""
    modules = {path: _parts(path) for path in speaking_modules()}
    names = {name for parts in modules.values() for name in _names(parts)}
    found: set[str] = set()
    for path, parts in modules.items():
        is_physics = path.relative_to(PACKAGE).as_posix().startswith(_PHYSICS)
        found.update(text for text in _templates(parts, has_tables=is_physics) if text not in names)
    return sorted(found)


def speaking_modules() -> list[Path]:
    """The modules of the program that a page reaches by imports, less those that write files."""
    reached: set[Path] = set()
    waiting = [path for path in _PAGES.rglob("*.py") if path.name not in _NOT_PAGES]
    while waiting:
        path = waiting.pop()
        if path not in reached:
            reached.add(path)
            waiting.extend(_imported(_parts(path)))
    inside = {path: path.relative_to(PACKAGE).as_posix() for path in reached if PACKAGE in path.parents}
    return sorted(path for path, name in inside.items() if not name.startswith(_FILES_OUT))


def templates_of(source: str, *, has_tables: bool = False) -> Iterator[str]:
    """Every text of a module with words in it, except docstrings and what only programmers see.

    Parameters
    ----------
    source : str
        Python.
    has_tables : bool
        Tables of figures stand at the top of the module, with their sources: they are not said.

    Examples
    --------
    >>> list(templates_of('def f(x):\\n    "A docstring is none."\\n    return f"at most {x:.1f} % of fruit"'))
    ['at most {0} % of fruit']
    >>> list(templates_of('def f(x):\\n    if x == "a code word": raise ValueError(f"no {x} here")'))
    []
    """
    return _templates(list(ast.walk(ast.parse(source))), has_tables=has_tables)


@cache
def _parts(path: Path) -> list[ast.AST]:
    """All nodes of a module, the module itself first."""
    return list(ast.walk(ast.parse(path.read_text(encoding="utf-8"))))


def _templates(parts: Sequence[ast.AST], *, has_tables: bool) -> Iterator[str]:
    passed = {id(node) for part in parts for node in _not_said(part)}
    if has_tables:
        tables = (node for node in ast.iter_child_nodes(parts[0]) if isinstance(node, ast.Assign | ast.AnnAssign))
        passed |= {id(node) for table in tables for node in ast.walk(table)}
    for node in parts:
        text = _template(node)
        if text and id(node) not in passed and _is_sentence(text):
            yield text
    yield from _choices(parts, passed)


def _is_sentence(text: str) -> bool:
    own = _BLANK.sub("", text)  # with small letters: neither SQL nor a list of codes
    return bool(_WORDS.search(text) and not _NOT_FOR_PEOPLE.search(text) and re.search("[a-z]", own))


def _not_said(node: ast.AST) -> Iterator[ast.AST]:
    """Docstrings, comparisons, keys, names in types, and the pieces of an f-string, which is taken as a whole."""
    match node:
        case ast.Expr(value=ast.Constant()):
            yield node.value
        case ast.Assert() | ast.Compare() | ast.Set():
            yield from ast.walk(node)
        case ast.Subscript(slice=ast.Constant() | ast.Tuple()):
            yield from ast.walk(node.slice)
        case ast.JoinedStr():
            yield from (piece for piece in node.values if isinstance(piece, ast.Constant))
            specs = (piece.format_spec for piece in node.values if isinstance(piece, ast.FormattedValue))
            yield from (part for spec in specs if spec for part in ast.walk(spec))
        case ast.Raise(exc=ast.Call(func=ast.Name(id=error))) if error in _OF_PROGRAMMERS:
            yield from ast.walk(node)
        case ast.Call(func=ast.Name(id=name) | ast.Attribute(attr=name)) if name in _NOT_SPEAKING:
            yield from (part for value in node.args for part in ast.walk(value))
        case ast.keyword(arg=str(name)) if name in _CODE:
            yield from ast.walk(node.value)


def _template(node: ast.AST) -> str | None:
    if isinstance(node, ast.Constant):
        return node.value if isinstance(node.value, str) else None
    if not isinstance(node, ast.JoinedStr):
        return None
    text, blank = "", 0
    for piece in node.values:
        if isinstance(piece, ast.Constant):
            text += str(piece.value)
        else:
            text += f"{{{blank}}}"
            blank += 1
    return text


def _choices(parts: Sequence[ast.AST], passed: set[int]) -> Iterator[str]:
    """Single words that a sentence chooses between, in it (`{'add' if price > 0 else 'save'}`) or beside it."""
    blanks = [node for node in parts if isinstance(node, ast.FormattedValue) and id(node) not in passed]
    inside = {id(part) for blank in blanks for part in ast.walk(blank)}
    filling = {blank.value.id for blank in blanks if isinstance(blank.value, ast.Name)}
    for node in parts:
        match node:
            case ast.Assign(targets=[ast.Name(id=name)], value=ast.IfExp()) if name in filling:
                yield from _two_words(node.value)
            case ast.AugAssign(value=ast.IfExp()):
                yield from _two_words(node.value)
            case ast.IfExp() if id(node) in inside:
                yield from _two_words(node)


def _two_words(choice: ast.IfExp | ast.expr) -> Iterator[str]:
    if isinstance(choice, ast.IfExp):
        words = [one.value for one in (choice.body, choice.orelse) if isinstance(one, ast.Constant)]
        if len(words) == 2:
            yield from (str(word) for word in words if re.fullmatch(r"\s*[a-z]{3,}\s*", str(word)))


def _names(parts: Sequence[ast.AST]) -> Iterator[str]:
    """What a type lists, `Literal["sell fresh", "freeze"]`: a page that shows one has its own word for it."""
    for node in parts:
        if isinstance(node, ast.Subscript) and ast.unparse(node.value).endswith("Literal"):
            yield from (str(part.value) for part in ast.walk(node.slice) if isinstance(part, ast.Constant))


def _imported(parts: Sequence[ast.AST]) -> Iterator[Path]:
    for node in parts:
        if isinstance(node, ast.Import):
            yield from _files(alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            yield from _files([node.module, *(f"{node.module}.{alias.name}" for alias in node.names)])


def _files(modules: Iterable[str]) -> Iterator[Path]:
    """Files of the program's own modules, with the packages they lie in."""
    for module in modules:
        top, *parts = module.split(".")
        if top == PACKAGE.name:
            for depth in range(len(parts) + 1):
                place = PACKAGE.joinpath(*parts[:depth])
                yield from (file for file in (place / "__init__.py", place.with_suffix(".py")) if file.is_file())
