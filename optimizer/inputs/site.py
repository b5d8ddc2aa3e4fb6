"""`site.toml` → the site: place, money, instruments, pans, jars, labour; defaults are said aloud."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from typing import Any, cast

from optimizer.errors import Fault
from optimizer.inputs import cells
from optimizer.inputs.cells import CellError
from optimizer.inputs.files import Cell, cell_text
from optimizer.inputs.models import Book, Jar, Labour, Pan, Site
from optimizer.inputs.names import nearest
from optimizer.inputs.prices import SIGNS, Money, read_price
from optimizer.inputs.toml_section import Reading, Section, lines_of_keys
from optimizer.units import format_mass, is_unit

STANDARDS = ("codex", "eu", "eu-2001", "eu-2026", "uk", "us", "india", "canada", "anz", "none")
FUELS = ("lpg", "wood", "natural gas", "electricity")
_SECTIONS = ("place", "money", "instruments", "pan", "jars", "labour", "stores", "prices", "risks")
_CURRENCY = re.compile(r"[^\W\d_]{1,8}")
_DENSEST_FILLING_KG_PER_L = 1.45  # judgement: fruit cheese comes to about 1.4; more is a slip of the pen
_LOWEST_M, _HIGHEST_M = -430.0, 5500.0  # shore of the Dead Sea; the highest towns


def read_site(text: str | None, book: Book, file: str = "site.toml") -> tuple[Site, Money, list[Fault]]:
    """The site, its money, and every fault of the file.

    Parameters
    ----------
    text : str or None
        Content of the file; None where there is none.
    book : Book
        Names of the products that have a sale price.
    file : str
        Name for messages.

    Returns
    -------
    Site, Money, list of Fault
        With faults, the site holds defaults in their place and must not be used.

    Examples
    --------
    >>> from optimizer.inputs.book import load_book
    >>> site, money, faults = read_site('[place]\\naltitude = "2000 ft"', load_book())
    >>> site.altitude_m, money.currency, faults
    (609.6, 'EUR', [])
    >>> site.defaults_said[0]
    'No standard is given: Codex is taken.'
    """
    reading = Reading(file=file, lines=lines_of_keys(text or ""))
    if text is None:
        reading.said.append(f"There is no {file}: defaults are taken for all of the site.")
    root = Section(reading, "", _parsed(text or "", reading))
    root.refuse_unknown(_SECTIONS)
    tables = {
        name: Section(reading, name, root.raw(name) if name in root else {})
        for name in _SECTIONS
        if name not in ("pan", "jars")
    }
    place, instruments, labour, stores = (tables[name] for name in ("place", "instruments", "labour", "stores"))
    fields: dict[str, Any] = {**_place(place)}
    money, fields["rates"] = _money(tables["money"])
    fields["currency"] = money.currency
    fields.update(_instruments(instruments))
    fields["pans"] = _pans(reading, root, money)
    fields["jars"] = _jars(reading, root, money)
    fields["labour"] = _labour(labour, money)
    fields.update(_stores(stores))
    fields["prices"] = _prices(tables["prices"], money, book)
    tables["risks"].refuse_unknown(("power_cut",))
    if "power_cut" in tables["risks"]:
        fields["risks"] = {"power_cut": tables["risks"].get("power_cut", _share, 0.0, least=0.0, most=1.0)}
    return Site(**fields, defaults_said=tuple(reading.said)), money, reading.faults


def _parsed(text: str, reading: Reading) -> Mapping[str, Any]:
    try:
        return tomllib.loads(text.replace("\r\n", "\n"))
    except (tomllib.TOMLDecodeError, ValueError, RecursionError) as error:
        found = re.search(r"\(at line (\d+)", str(error))
        why = re.sub(r"\s*\(at .*\)", "", str(error))
        reading.faults.append(
            Fault(
                file=reading.file,
                line=int(found[1]) if found else None,
                cure=f'cannot be read here ({why}): write keys as name = "text" or name = 12',
            )
        )
        return {}


# ---- readers of single values ----------------------------------------------------------------------------------------


def _text(cell: Cell) -> str:
    text = cells.plain_text(cell, 120)
    if not text:
        raise CellError("is empty; fill it in or remove the line")
    return text


def _share(cell: Cell) -> float:
    """`50 %`, or a number from 0 to 1."""
    value, unit = cells.number_and_unit(cell, ".")
    return cells.fraction(cell) if unit else value


def _yes_no_or_step(cell: Cell) -> bool:
    """`yes`, `no`, or the step of its scale, which says that there is one."""
    if isinstance(cell, bool) or cell_text(cell).lower() in ("yes", "no", "true", "false"):
        return cells.yes_no(cell)
    return cells.brix(cell) > 0.0


def _count(cell: Cell) -> float:
    value = cells.number(cell, ".", tuple(sorted(cells.PIECES)))
    if value != round(value):
        raise CellError("give a whole number")
    return value


def _money_reader(money: Money, *per: str) -> Any:
    """Money, for each of `per` where that is typed."""

    def read(cell: Cell) -> float:
        if isinstance(cell, str):
            amount, stroke, unit = cell.partition("/")
            if stroke and unit.strip() not in per:
                raise CellError(f"give money per {per[0]}" if per else "give money without a unit")
            cell = amount.strip()
        return read_price(cell, money).value

    return read


# ---- sections --------------------------------------------------------------------------------------------------------


def _place(place: Section) -> dict[str, Any]:
    place.refuse_unknown(("name", "altitude", "standard"))
    return {
        "name": place.get("name", _text, "your site"),
        "altitude_m": place.get(
            "altitude", lambda cell: cells.quantity(cell, "m"), 0.0, least=_LOWEST_M, most=_HIGHEST_M,
            said="No altitude is given: sea level is taken; water boils 1 degC cooler for every 300 m.",
        ),
        "standard": place.get(
            "standard", lambda cell: cells.choice(cell, STANDARDS), "codex",
            said="No standard is given: Codex is taken.",
        ),
    }  # fmt: skip


def _money(section: Section) -> tuple[Money, Mapping[str, float]]:
    section.refuse_unknown(("currency", "rates"))

    def currency_code(cell: Cell) -> str:
        text = SIGNS.get(cell_text(cell), cell_text(cell))
        if not _CURRENCY.fullmatch(text):
            raise CellError("write the code of a currency in letters, such as EUR")
        return text

    currency = section.get("currency", currency_code, "", said="No currency is given: prices are taken as EUR.")
    is_given = "currency" in section
    money = Money(currency=currency or "EUR", is_given=is_given, is_known=bool(currency) or not is_given)
    if "rates" not in section:
        return money, {}
    rates = Section(section._reading, "money.rates", section.raw("rates"))
    day = rates.get("date", cells.iso_date, None, required="the day of the rates, such as date = 2026-07-01")
    found = {
        code: rates.get(code, _money_reader(Money(currency=money.currency), code), 0.0, above=0.0)
        for code in rates.keys()  # noqa: SIM118
        if code != "date"
    }
    for code in found:
        if not _CURRENCY.fullmatch(code):
            rates.fault(code, "write the code of a currency in letters, such as USD")
        elif code.lower() == money.currency.lower():
            rates.fault(code, "is the currency of the site itself; remove the line")
    money.rates = {code: rate for code, rate in found.items() if rate > 0.0}
    money.is_known = money.is_known and len(money.rates) == len(found)
    money.rates_day = day
    return money, money.rates


def _instruments(section: Section) -> dict[str, Any]:
    section.refuse_unknown(("refractometer", "ph_meter", "scale_step"))

    def ph_meter(cell: Cell) -> str:
        return cells.choice("yes" if cell is True else "no" if cell is False else cell, ("yes", "strips", "no"))

    return {
        "has_refractometer": section.get(
            "refractometer", _yes_no_or_step, True, said="Nothing is said of a refractometer: one is taken to be there."
        ),
        "ph_meter": section.get(
            "ph_meter", ph_meter, "no",
            said="No pH meter is given: none is taken to be there; pH bounds are drawn in more.",
        ),
        "scale_step_kg": section.get(
            "scale_step", lambda cell: cells.quantity(cell, "kg"), 0.005, above=0.0, most=10.0,
            said="No step of the scales is given: 5 g is taken.",
        ),
    }  # fmt: skip


def _pans(reading: Reading, root: Section, money: Money) -> tuple[Pan, ...]:
    tables = root.raw("pan")
    if tables is None:
        reading.said.append("No pan is given: 12 minutes of boiling are taken, without limit of size and without fuel.")
        return ()
    if not isinstance(tables, list):
        root.fault("pan", "write [[pan]] with two brackets, once per size of pan")
        return ()
    pans = []
    for number, values in enumerate(tables, start=1):
        section = Section(reading, f"pan {number}", values)
        if not isinstance(values, Mapping):
            continue  # the section has said so
        section.refuse_unknown(("count", "capacity", "power", "fuel", "fuel_price", "efficiency"))
        fuel = section.get("fuel", lambda cell: cells.choice(cell_text(cell).replace("-", " "), FUELS), "lpg",
                           said=f"Pan {number}: no fuel is given, LPG is taken.")  # fmt: skip
        pans.append(
            Pan(
                count=int(section.get("count", _count, 1.0, least=1, most=1000)),
                capacity_L=section.get("capacity", lambda cell: cells.quantity(cell, "L"), 1.0, above=0.0,
                                       required='volume to the brim, such as "60 L"'),
                power_kW=section.get("power", lambda cell: cells.quantity(cell, "kW"), 1.0, above=0.0,
                                     required='net heat into the pan, such as "15 kW"'),
                fuel=cast(Any, fuel),
                fuel_price=section.get(
                    "fuel_price", _money_reader(money, "kWh" if fuel == "electricity" else "kg"), 0.0, least=0.0,
                    said=f"Pan {number}: no price of fuel is given, fuel is not in the cost.",
                ),
                efficiency=section.get("efficiency", _share, 0.5, above=0.0, most=1.0,
                                       said=f"Pan {number}: no efficiency is given, half of the fuel's heat is taken."),
            )
        )  # fmt: skip
    return tuple(pans)


def _jars(reading: Reading, root: Section, money: Money) -> tuple[Jar, ...]:
    tables = root.raw("jars")
    if tables is None:
        reading.said.append("No jars are given: the recipe counts none and jars are not in the cost.")
        return ()
    all_jars = Section(reading, "jars", tables)
    jars = []
    for name in all_jars.keys():  # noqa: SIM118
        section = Section(reading, f'jars."{name}"', all_jars.raw(name))
        if not isinstance(all_jars.raw(name), Mapping):
            continue  # the section has said so
        section.refuse_unknown(("net", "brim_volume", "cost", "on_hand"))
        before = len(reading.faults)
        jar = Jar(
            name=" ".join(name.split()),
            net_kg=section.get("net", lambda cell: cells.quantity(cell, "kg"), 1.0, above=0.0,
                               required='what is filled in, such as "450 g"'),
            brim_volume_L=section.get("brim_volume", lambda cell: cells.quantity(cell, "L"), _volume_in(name),
                                      above=0.0),
            cost=section.get("cost", _money_reader(money, "piece", "jar"), 0.0, least=0.0,
                             said=f"Jar {name}: no cost is given, it is not in the cost."),
            on_hand=section.get("on_hand", _count, None, least=0.0),
        )  # fmt: skip
        jars.append(jar)
        full_kg = None if jar.brim_volume_L is None else _DENSEST_FILLING_KG_PER_L * jar.brim_volume_L
        if full_kg is not None and jar.net_kg > full_kg and len(reading.faults) == before:
            section.fault(
                "net", f"more than the jar holds to its brim, about {format_mass(full_kg)}", section.raw("net")
            )
    return tuple(jars)


def _volume_in(name: str) -> float | None:
    """The volume that a jar's name states."""
    try:
        value, unit = cells.number_and_unit(name, ".")
        return cells.quantity(name, "L") if unit and value > 0.0 and is_unit(unit, "L") else None
    except CellError:
        return None


def _labour(section: Section, money: Money) -> Labour:
    section.refuse_unknown(("people", "wage", "shift", "hours_per_100kg", "overhead"))
    if not section.keys():
        section._reading.said.append("No labour is given: work and overhead are not in the cost.")
        return Labour()
    return Labour(
        people=section.get("people", lambda cell: cells.number(cell, ".", ("people",)), 1.0, above=0.0, most=10_000.0,
                           said="No number of people is given: one is taken."),
        wage_per_h=section.get("wage", _money_reader(money, "h", "hour"), 0.0, least=0.0,
                               said="No wage is given: work is not in the cost."),
        shift_h=section.get("shift", lambda cell: cells.quantity(cell, "h"), 8.0, above=0.0, most=24.0,
                            said="No shift is given: 8 hours are taken."),
        hours_per_100kg=section.get("hours_per_100kg", lambda cell: cells.quantity(cell, "h"), 0.0, least=0.0,
                                    said="No hours per 100 kg are given: work is not in the cost."),
        overhead_per_day=section.get("overhead", _money_reader(money, "day", "d"), 0.0, least=0.0,
                                     said="No overhead is given: it is not in the cost."),
    )  # fmt: skip


def _stores(section: Section) -> dict[str, Any]:
    section.refuse_unknown(("cold_room", "freezer", "jars_at"))
    stores = {name: section.get(name, _text, "") for name in ("cold_room", "freezer") if name in section}
    at = section.get("jars_at", lambda cell: cells.quantity(cell, "degC"), None, least=-10.0, most=50.0)
    return {"stores": {name: text for name, text in stores.items() if text}, "storage_C": at}


def _prices(section: Section, money: Money, book: Book) -> dict[str, float]:
    prices = {}
    for product in section.keys():  # noqa: SIM118
        if product not in book.products:
            section.fault(product, f"not a product; {nearest(product, book.products)}")
            continue
        prices[product] = section.get(product, _money_reader(money, "kg"), 0.0, least=0.0)
    return prices
