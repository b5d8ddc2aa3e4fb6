"""Drawings of results: limits as bullet lines, cost as steps. Colours tell apart for colour-blind eyes (Okabe and Ito),
and never alone: a word or a figure stands beside each mark."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import altair as alt
import pandas as pd
import streamlit as st

Drawing = alt.Chart | alt.LayerChart | alt.FacetChart

_ROW_PX = 74
_TEXT_PX, _SMALL_PX = 16, 14


@dataclass(frozen=True, kw_only=True)
class Ink:
    """Colours of one theme: marks drawn by name do not follow it by themselves."""

    text: str
    faint: str
    line: str
    band: str
    inside: str
    limit: str
    outside: str
    part: str
    whole: str


LIGHT = Ink(
    text="#22201C", faint="#5B5750", line="#8B857A", band="#BFDDF0", inside="#0072B2", limit="#22201C",
    outside="#D55E00", part="#0072B2", whole="#4A463F",
)  # fmt: skip
DARK = Ink(
    text="#ECE8E0", faint="#B5B0A6", line="#7D8288", band="#1F4E6B", inside="#56B4E9", limit="#ECE8E0",
    outside="#E8803A", part="#56B4E9", whole="#B5B0A6",
)  # fmt: skip


def ink() -> Ink:
    """The colours of the reader's theme."""
    return DARK if st.context.theme.type == "dark" else LIGHT


@dataclass(frozen=True, kw_only=True)
class Bullet:
    """One line of the limits: all texts ready to be drawn, and where the mark lies."""

    name: str
    word: str  # value and state
    state: str  # inside, at the limit, outside
    value: float
    least: float | None
    most: float | None
    least_text: str
    most_text: str


def _places(bullet: Bullet) -> tuple[float, float, float]:
    """Where band and mark lie on a line from 0 to 1: the window takes its middle, an open side runs to the edge."""
    least, most, value = bullet.least, bullet.most, bullet.value
    if least is not None and most is not None:
        width = (most - least) or 1.0
        low, high, at = 0.25, 0.75, 0.25 + 0.5 * (value - least) / width
    elif least is not None:
        room = abs(least) or 1.0
        low, high, at = 0.25, 1.0, 0.25 + 0.5 * (value - least) / room
    else:
        room = abs(most or 0.0) or 1.0
        low, high, at = 0.0, 0.75, 0.75 - 0.75 * ((most or 0.0) - value) / room
    return low, high, min(0.985, max(0.015, at))


def bullet_lines(bullets: Sequence[Bullet], alt_text: str) -> None:
    """Each limit on a line of its own: the window as a band, the batch as a mark, its word beside the name."""
    colours = ink()
    lines = []
    for row, bullet in enumerate(bullets):
        low, high, at = _places(bullet)
        lines.append(
            {
                "top": float(-row), "mid": -row - 0.42, "foot": -row - 0.74, "name": bullet.name, "word": bullet.word,
                "state": bullet.state, "low": low, "high": high, "at": at, "zero": 0.0, "one": 1.0,
                "least": bullet.least_text, "most": bullet.most_text,
            }
        )  # fmt: skip
    frame = pd.DataFrame(lines)
    x = alt.Scale(domain=[0, 1], nice=False)
    y = alt.Scale(domain=[-len(bullets) + 0.05, 0.2], nice=False)

    def across(field: str) -> alt.X:
        return alt.X(f"{field}:Q", scale=x, axis=None)

    def down(field: str) -> alt.Y:
        return alt.Y(f"{field}:Q", scale=y, axis=None)

    base = alt.Chart(frame)
    rule = base.mark_rule(color=colours.line, strokeWidth=2).encode(across("zero"), alt.X2("one:Q"), down("mid"))
    band = base.mark_rule(color=colours.band, strokeWidth=18).encode(across("low"), alt.X2("high:Q"), down("mid"))
    mark = base.mark_point(filled=True, size=260, opacity=1).encode(
        across("at"),
        down("mid"),
        color=alt.Color(
            "state:N",
            legend=None,
            scale=alt.Scale(
                domain=["inside", "at the limit", "outside"], range=[colours.inside, colours.limit, colours.outside]
            ),
        ),
        shape=alt.Shape(
            "state:N",
            legend=None,
            scale=alt.Scale(domain=["inside", "at the limit", "outside"], range=["circle", "diamond", "triangle-up"]),
        ),
    )

    def words(field: str, at: str, height: str, side: Literal["left", "center", "right"], is_small: bool) -> Drawing:
        marked = base.mark_text(
            align=side, baseline="middle", color=colours.faint if is_small else colours.text,
            fontSize=_SMALL_PX if is_small else _TEXT_PX, fontWeight=600 if field == "word" else 400,
        )  # fmt: skip
        drawn: Drawing = marked.encode(across(at), down(height), alt.Text(f"{field}:N"))
        return drawn

    texts = (
        words("name", "zero", "top", "left", False),
        words("word", "one", "top", "right", False),
        words("least", "low", "foot", "center", True),
        words("most", "high", "foot", "center", True),
    )
    chart = alt.layer(rule, band, mark, *texts).properties(height=_ROW_PX * len(bullets))
    _draw(chart, alt_text)


def cost_steps(parts: Sequence[tuple[str, float, str]], whole: tuple[str, float, str], alt_text: str) -> None:
    """Parts of a cost, one below the other, each beginning where the last one ended, and their sum.

    Parameters
    ----------
    parts : sequence of (name, money, the money in words)
    whole : the sum, likewise
    alt_text : str
        What the drawing says.
    """
    colours = ink()
    lines, end = [], 0.0
    for name, value, text in parts:
        lines.append({"name": name, "start": end, "end": end + value, "text": text, "kind": "part"})
        end += value
    lines.append({"name": whole[0], "start": 0.0, "end": whole[1], "text": whole[2], "kind": "whole"})
    frame = pd.DataFrame(lines)
    reach = max(max(frame["start"].max(), frame["end"].max()), 1e-9)
    order = frame["name"].tolist()
    y = alt.Y(
        "name:N", sort=order, title=None,
        axis=alt.Axis(
            labelFontSize=_TEXT_PX, labelColor=colours.text, labelLimit=170, labelPadding=8, ticks=False, domain=False
        ),
    )  # fmt: skip
    base = alt.Chart(frame)
    scale = alt.Scale(domain=[min(0.0, frame["end"].min()), reach * 1.3], nice=False)
    bars = base.mark_bar(height=18, cornerRadius=2).encode(
        y,
        alt.X("start:Q", scale=scale, axis=None),
        alt.X2("end:Q"),
        color=alt.Color(
            "kind:N", legend=None, scale=alt.Scale(domain=["part", "whole"], range=[colours.part, colours.whole])
        ),
    )
    texts = base.mark_text(align="left", dx=6, color=colours.text, fontSize=_TEXT_PX).encode(
        y, alt.X("end:Q", scale=scale, axis=None), alt.Text("text:N")
    )
    chart = alt.layer(bars, texts).properties(height=alt.Step(30))
    _draw(chart, alt_text)


def _draw(chart: Drawing, alt_text: str) -> None:
    """No frame, no grid, no ground of its own; as wide as its place."""
    bare: Drawing = chart.configure_view(stroke=None).configure(background="transparent")
    st.altair_chart(bare, width="stretch", alt=alt_text)
