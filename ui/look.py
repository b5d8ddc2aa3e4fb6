"""What the settings of the theme cannot say: room above, figures flush right, an old answer paler, a chosen button."""

from __future__ import annotations

import streamlit as st

_MOST_COLUMNS = 9
_RIGHT = "\n".join(
    f'[class*="st-key-figures"][class*="_c{at}_"] tr > :nth-child({at + 1}) {{ text-align: right !important; }}'
    for at in range(_MOST_COLUMNS)
)
LOOK = f"""<style>
[data-testid="stMainBlockContainer"] {{ padding-top: 4.2rem; padding-bottom: 3rem; }}
[class*="st-key-before"] {{ opacity: 0.6; }}
[data-testid="stTable"] {{ overflow-x: auto; }}
[data-testid="stButtonGroup"] button:is([aria-checked="true"], [aria-pressed="true"]) {{ color: inherit !important; }}
@media (max-width: 640px) {{ [data-testid="stMainBlockContainer"] {{ padding-left: 1rem; padding-right: 1rem; }} }}
{_RIGHT}
</style>"""


def put_on() -> None:
    """Once per run; the text is ours alone, nothing from people goes in here."""
    st.html(LOOK)


def figures_key(name: str, columns: tuple[int, ...]) -> str:
    """The key of a container whose table has figures in these columns.

    >>> figures_key("lots", (1, 3))
    'figures_lots_c1_c3_'
    """
    return f"figures_{name}_" + "".join(f"c{at}_" for at in columns)
