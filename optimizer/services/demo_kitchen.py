"""The invented example as a kitchen in the store, with its days moved so that it is fresh today."""

from __future__ import annotations

import re
from datetime import date, timedelta

from optimizer.datafiles import data_folder
from optimizer.errors import InputFault
from optimizer.inputs.files import Cell, cell_text, read_file
from optimizer.inputs.goods import columns_of
from optimizer.inputs.names import nearest
from optimizer.services.new_kitchen import NewTable, make_kitchen_from, named_in
from optimizer.services.preview import Which
from optimizer.services.recipe import DEMO_DAY, DEMO_SITES
from optimizer.store import Kitchen, Store

_DAY = re.compile(r"(?<![0-9-])(?:19|20)[0-9]{2}-[0-9]{2}-[0-9]{2}(?![0-9-])")


def load_demo(store: Store, site: str = "ombrey_hollow", *, today: date, who: str = "") -> Kitchen:
    """A kitchen from an invented site that ships with panwise; it becomes the current one.

    Parameters
    ----------
    store : Store
        Where to.
    site : {"ombrey_hollow", "sanduri_flats"}
        Which; places, firms, lots and prices of both are invented, and the name says so.
    today : date
        All days in the tables are moved by as much as lies between the demo's day and this one.

    Raises
    ------
    InputFault
        No such demo site.
    """
    if site not in DEMO_SITES:
        raise InputFault(f'demo site "{site}" is not known; {nearest(site, DEMO_SITES)}')
    by = today - DEMO_DAY
    toml = moved((data_folder() / "demo" / site / "site.toml").read_text(encoding="utf-8"), by)
    return make_kitchen_from(
        store,
        name=named_in(toml, site),
        site_toml=toml,
        stock=NewTable(rows=_rows(site, "stock", by)),
        offers=NewTable(rows=_rows(site, "offers", by)),
        said="Loaded the invented example",
        on=today,
        is_invented=True,
        who=who,
    )


def moved(text: str, by: timedelta) -> str:
    """Every day in a text, as 2026-07-04, moved.

    >>> moved("received 2026-07-01, eu-2026", timedelta(days=31))
    'received 2026-08-01, eu-2026'
    """
    return _DAY.sub(lambda found: (date.fromisoformat(found.group()) + by).isoformat(), text)


def _rows(site: str, which: Which, by: timedelta) -> list[dict[str, Cell]]:
    columns = columns_of(which)
    raw = read_file(data_folder() / "demo" / site / f"{which}.csv", columns)
    return [
        {
            name: moved(cell_text(cell), by) if name in columns and columns[name].type == "date" else cell
            for name, cell in zip(raw.header, row, strict=False)
        }
        for row in raw.rows
    ]
