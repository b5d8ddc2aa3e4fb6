"""The fields of `site.toml` as text for a form, and back: nothing that a form shows or does not show is lost."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any

from optimizer.errors import Fault
from optimizer.inputs.files import cell_text

FILE = "site.toml"


@dataclass(frozen=True, kw_only=True)
class PanFields:
    """One `[[pan]]`; an empty text is not given."""

    count: str = ""
    capacity: str = ""
    power: str = ""
    fuel: str = ""
    fuel_price: str = ""
    efficiency: str = ""


@dataclass(frozen=True, kw_only=True)
class JarFields:
    """One `[jars."380 mL"]`."""

    name: str = ""
    net: str = ""
    brim_volume: str = ""
    cost: str = ""
    on_hand: str = ""


@dataclass(frozen=True, kw_only=True)
class NamedText:
    """A key that a person chooses, and its value: a rate by its currency, a sale price by its product."""

    name: str = ""
    text: str = ""


@dataclass(frozen=True, kw_only=True)
class SiteSettings:
    """Every field of `site.toml` as a person typed it; an empty text is not given, and its default is taken.

    Examples
    --------
    >>> settings = settings_of('[place]\\naltitude = "420 m"\\n[[pan]]\\ncapacity = "60 L"\\ncount = 2\\n')
    >>> settings.altitude, settings.pans[0].count, settings.currency
    ('420 m', '2', '')
    >>> print(toml_of(settings), end="")
    [place]
    altitude = "420 m"
    <BLANKLINE>
    [[pan]]
    count = "2"
    capacity = "60 L"
    """

    name: str = ""
    altitude: str = ""
    standard: str = ""
    currency: str = ""
    rates_date: str = ""
    rates: tuple[NamedText, ...] = ()
    refractometer: str = ""
    ph_meter: str = ""
    scale_step: str = ""
    pans: tuple[PanFields, ...] = ()
    jars: tuple[JarFields, ...] = ()
    people: str = ""
    wage: str = ""
    shift: str = ""
    hours_per_100kg: str = ""
    overhead: str = ""
    cold_room: str = ""
    freezer: str = ""
    jars_at: str = ""
    power_cut: str = ""
    prices: tuple[NamedText, ...] = ()


SECTIONS: Mapping[str, tuple[str, ...]] = {
    "place": ("name", "altitude", "standard"),
    "instruments": ("refractometer", "ph_meter", "scale_step"),
    "labour": ("people", "wage", "shift", "hours_per_100kg", "overhead"),
    "stores": ("cold_room", "freezer", "jars_at"),
    "risks": ("power_cut",),
}
"""Sections whose keys are fields of the same name."""


def settings_of(toml: str) -> SiteSettings:
    """The fields of a site file that can be parsed; its values need not be sound.

    Raises
    ------
    tomllib.TOMLDecodeError
        The text is no TOML.
    """
    root = tomllib.loads(toml)
    found: dict[str, Any] = {}
    for section, names in SECTIONS.items():
        values = _table(root.get(section))
        found.update({name: _text(values[name]) for name in names if name in values})
    money = _table(root.get("money"))
    rates = _table(money.get("rates"))
    jars, prices = _table(root.get("jars")), _table(root.get("prices"))
    pans = root.get("pan", [])
    return SiteSettings(
        **found,
        currency=_text(money.get("currency", "")),
        rates_date=_text(rates.get("date", "")),
        rates=tuple(NamedText(name=code, text=_text(value)) for code, value in rates.items() if code != "date"),
        pans=tuple(PanFields(**_texts(pan, PanFields)) for pan in (pans if isinstance(pans, list) else [])),
        jars=tuple(JarFields(**{**_texts(jar, JarFields), "name": name}) for name, jar in jars.items()),
        prices=tuple(NamedText(name=product, text=_text(value)) for product, value in prices.items()),
    )


def toml_of(settings: SiteSettings) -> str:
    """The site file of the fields: same fields, same text."""
    return "\n".join(_written(settings))


def name_faults(settings: SiteSettings) -> list[Fault]:
    """Names that a file cannot hold: missing, or there twice."""
    named: Sequence[tuple[str, Sequence[str], str]] = (
        ("[jars]", [jar.name for jar in settings.jars if any(_filled(jar).values())], "380 mL"),
        ("[money.rates]", [rate.name for rate in settings.rates if rate.name or rate.text], "USD"),
        ("[prices]", [price.name for price in settings.prices if price.name or price.text], "jam"),
    )
    faults = []
    for item, names, such_as in named:
        seen: set[str] = set()
        for name in (" ".join(name.split()) for name in names):
            if not name:
                faults.append(Fault(file=FILE, item=item, column="name", cure=f"give it a name, such as {such_as}"))
            elif name in seen:
                faults.append(Fault(file=FILE, item=item, column="name", value=name, cure="is there twice; keep one"))
            seen.add(name)
    return faults


def _written(settings: SiteSettings) -> Iterator[str]:
    yield from _section("place", {name: getattr(settings, name) for name in SECTIONS["place"]})
    yield from _section("money", {"currency": settings.currency})
    rates = {rate.name: rate.text for rate in settings.rates if rate.name.strip()}
    yield from _section("money.rates", {"date": settings.rates_date, **rates} if rates or settings.rates_date else {})
    yield from _section("instruments", {name: getattr(settings, name) for name in SECTIONS["instruments"]})
    for pan in settings.pans:
        yield from _section("pan", _filled(pan), head="[[pan]]")
    for jar in settings.jars:
        cells = _filled(jar)
        name = " ".join(cells.pop("name", "").split())
        if name:
            yield from _section("jars", cells, head=f"[jars.{_quoted(name)}]", even_if_empty=True)
    for section in ("labour", "stores", "risks"):
        yield from _section(section, {name: getattr(settings, name) for name in SECTIONS[section]})
    yield from _section("prices", {price.name: price.text for price in settings.prices if price.name.strip()})


def _section(name: str, values: Mapping[str, str], *, head: str = "", even_if_empty: bool = False) -> Iterator[str]:
    lines = [f"{_key(key)} = {_quoted(text.strip())}" for key, text in values.items() if text.strip()]
    if lines or even_if_empty:
        yield "\n".join([head or f"[{name}]", *lines]) + "\n"


def _key(name: str) -> str:
    name = " ".join(name.split())
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else _quoted(name)


def _quoted(text: str) -> str:
    """A TOML basic string; JSON escapes the same characters, all but one."""
    text = text.encode("utf-8", errors="replace").decode("utf-8")
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _table(values: Any) -> Mapping[str, Any]:
    return values if isinstance(values, Mapping) else {}


def _texts(values: Any, kind: type) -> dict[str, str]:
    known = {field.name for field in fields(kind)}
    return {name: _text(value) for name, value in _table(values).items() if name in known}


def _text(value: Any) -> str:
    return cell_text(value).strip()


def _filled(part: PanFields | JarFields) -> dict[str, str]:
    return {field.name: getattr(part, field.name).strip() for field in fields(part)}
