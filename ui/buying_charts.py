"""Drawings of the buyer: steps of a ladder, who wins where, how often an offer is taken, prices over time.

Colours are those of Okabe and Ito, and never alone: a word or a number stands at each mark.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import altair as alt
import pandas as pd
import streamlit as st

from ui.charts import Drawing, ink
from ui.words import decimal_mark

_TEXT_PX, _SMALL_PX = 15, 13
_MOST_DAYS = 12  # named on the axis
_ROOMY = 0.06  # of a map: a field with room for words
_FIELDS = ("#0072B2", "#E69F00", "#009E73", "#CC79A7", "#56B4E9", "#D55E00", "#F0E442", "#7F7F7F")


def _axis(title: str, *, grid: bool = False) -> alt.Axis:
    """An axis of figures with the reader's decimal mark."""
    colours = ink()
    return alt.Axis(
        title=title, grid=grid, gridColor=colours.line, gridOpacity=0.35, labelFontSize=_SMALL_PX,
        titleFontSize=_SMALL_PX, titleFontWeight=400, labelColor=colours.faint, titleColor=colours.faint,
        domainColor=colours.line, tickColor=colours.line, tickCount=6, labelFlush=True, labelOverlap=True,
        labelExpr=f"replace(datum.label, '.', '{decimal_mark()}')",
    )  # fmt: skip


def _draw(chart: Drawing, alt_text: str) -> None:
    bare: Drawing = chart.configure_view(stroke=None).configure(background="transparent")
    st.altair_chart(bare, width="stretch", alt=alt_text)


@dataclass(frozen=True, kw_only=True)
class Stair:
    """One step of a ladder as it is drawn; `word` stands at its beginning."""

    low: float
    high: float
    kg: float
    word: str


def ladder_steps(
    stairs: Sequence[Stair], *, price: str, kg: str, now: float | None, now_word: str, alt_text: str
) -> None:
    """Kilograms over the price as steps that fall; the present price as a line."""
    colours = ink()
    frame = pd.DataFrame([{**stair.__dict__, "zero": 0.0} for stair in stairs])
    right = float(frame["high"].max())
    top = max(float(frame["kg"].max()), 1e-9) * 1.18
    x = alt.Scale(domain=[0.0, right], nice=False)
    y = alt.Scale(domain=[0.0, top], nice=False)
    base = alt.Chart(frame)
    area = base.mark_rect(color=colours.band, opacity=0.8).encode(
        alt.X("low:Q", scale=x, axis=_axis(price)), alt.X2("high:Q"),
        alt.Y("kg:Q", scale=y, axis=_axis(kg, grid=True)), alt.Y2("zero:Q"),
    )  # fmt: skip
    edge = base.mark_rule(color=colours.inside, strokeWidth=3).encode(
        alt.X("low:Q", scale=x), alt.X2("high:Q"), alt.Y("kg:Q", scale=y)
    )
    wide = frame[(frame["high"] - frame["low"]) > 0.09 * right]
    word = alt.Chart(wide).mark_text(align="left", dx=6, dy=-10, color=colours.text, fontSize=_TEXT_PX).encode(
        alt.X("low:Q", scale=x), alt.Y("kg:Q", scale=y), alt.Text("word:N")
    )  # fmt: skip
    layers: list[Drawing] = [area, edge, word]
    if now is not None and now <= right:
        here = pd.DataFrame([{"now": now, "top": top, "word": now_word}])
        side: Literal["left", "right"] = "left" if now < 0.7 * right else "right"
        layers.append(
            alt.Chart(here).mark_rule(color=colours.outside, strokeWidth=2, strokeDash=[6, 4]).encode(
                alt.X("now:Q", scale=x)
            )
        )  # fmt: skip
        layers.append(
            alt.Chart(here).mark_text(
                align=side, dx=6 if side == "left" else -6, baseline="top", dy=2, color=colours.text,
                fontSize=_TEXT_PX, fontWeight=600,
            ).encode(alt.X("now:Q", scale=x), alt.Y("top:Q", scale=y), alt.Text("word:N"))
        )  # fmt: skip
    _draw(alt.layer(*layers).properties(height=300), alt_text)


@dataclass(frozen=True, kw_only=True)
class Field:
    """One field of a map; fields of the same `number` are one choice, named by `word`."""

    number: int
    word: str
    corners: tuple[tuple[float, float], ...]
    share: float


def winners(
    fields: Sequence[Field], *, first: str, second: str, now: tuple[float, float], now_word: str, alt_text: str
) -> None:
    """Fields of a map, each with its number; the present prices as a cross."""
    colours = ink()
    corners = [
        {"cell": cell, "at": at, "x": p, "y": q, "number": str(field.number)}
        for cell, field in enumerate(fields)
        for at, (p, q) in enumerate(field.corners)
    ]
    frame = pd.DataFrame(corners)
    x = alt.Scale(domain=[frame["x"].min(), frame["x"].max()], nice=False)
    y = alt.Scale(domain=[frame["y"].min(), frame["y"].max()], nice=False)
    numbers = sorted({field.number for field in fields})
    scale = alt.Scale(
        domain=[str(number) for number in numbers], range=[_FIELDS[(n - 1) % len(_FIELDS)] for n in numbers]
    )
    area = alt.Chart(frame).mark_line(
        filled=True, fillOpacity=0.55, stroke=colours.text, strokeWidth=0.6, strokeOpacity=0.5
    ).encode(
        alt.X("x:Q", scale=x, axis=_axis(first)), alt.Y("y:Q", scale=y, axis=_axis(second)), alt.Order("at:Q"),
        detail="cell:N", fill=alt.Fill("number:N", scale=scale, legend=None),
    )  # fmt: skip
    named = [
        {
            "x": sum(p for p, _q in field.corners) / len(field.corners),
            "y": sum(q for _p, q in field.corners) / len(field.corners),
            "word": field.word if field.share > _ROOMY else str(field.number),
        }
        for field in _largest(fields)
    ]  # fmt: skip
    words = alt.Chart(pd.DataFrame(named)).mark_text(fontSize=_TEXT_PX, fontWeight=700, color=colours.text).encode(
        alt.X("x:Q", scale=x), alt.Y("y:Q", scale=y), alt.Text("word:N")
    )  # fmt: skip
    here = alt.Chart(pd.DataFrame([{"x": now[0], "y": now[1], "word": now_word}]))
    cross = here.mark_point(shape="cross", size=220, filled=True, color=colours.text, opacity=1.0).encode(
        alt.X("x:Q", scale=x), alt.Y("y:Q", scale=y)
    )
    word = here.mark_text(align="left", dx=12, dy=-12, fontSize=_TEXT_PX, fontWeight=600, color=colours.text).encode(
        alt.X("x:Q", scale=x), alt.Y("y:Q", scale=y), alt.Text("word:N")
    )
    _draw(alt.layer(area, words, cross, word).properties(height=380), alt_text)


def _largest(fields: Sequence[Field]) -> list[Field]:
    """The largest field of each number: there is room for a word."""
    by_number: dict[int, Field] = {}
    for field in fields:
        if field.number not in by_number or field.share > by_number[field.number].share:
            by_number[field.number] = field
    return list(by_number.values())


def shares(rows: Sequence[tuple[str, float, str]], alt_text: str) -> None:
    """Bars from zero: name, share from 0 to 1, the share in words."""
    colours = ink()
    frame = pd.DataFrame([{"name": name, "share": share, "word": word, "zero": 0.0} for name, share, word in rows])
    y = alt.Y(
        "name:N", sort=frame["name"].tolist(), title=None,
        axis=alt.Axis(
            labelFontSize=_TEXT_PX, labelColor=colours.text, labelLimit=260, labelPadding=8, ticks=False, domain=False
        ),
    )  # fmt: skip
    scale = alt.Scale(domain=[0.0, 1.35], nice=False)
    base = alt.Chart(frame)
    bars = base.mark_bar(height=18, cornerRadius=2, color=colours.part).encode(
        y, alt.X("zero:Q", scale=scale, axis=None), alt.X2("share:Q")
    )
    words = base.mark_text(align="left", dx=6, color=colours.text, fontSize=_TEXT_PX).encode(
        y, alt.X("share:Q", scale=scale, axis=None), alt.Text("word:N")
    )
    _draw(alt.layer(bars, words).properties(height=alt.Step(30)), alt_text)


def prices_over_time(rows: Sequence[tuple[str, str, float]], *, price: str, alt_text: str) -> None:
    """A line of steps for each offer, its code at the end: day as ISO text, offer, price."""
    colours = ink()
    frame = pd.DataFrame(rows, columns=["day", "offer", "price"])
    offers = list(dict.fromkeys(frame["offer"]))
    top = float(frame["price"].max()) * 1.15 or 1.0
    y = alt.Y("price:Q", scale=alt.Scale(domain=[0.0, top], nice=False), axis=_axis(price, grid=True))
    axis = alt.Axis(
        title=None, grid=False, format="%Y-%m-%d", values=sorted(set(frame["day"].astype(str)))[-_MOST_DAYS:],
        labelFontSize=_SMALL_PX, labelColor=colours.faint, domainColor=colours.line, tickColor=colours.line,
        labelOverlap=True,
    )  # fmt: skip
    days = alt.X("day:T", axis=axis, scale=alt.Scale(padding=30))
    colour = alt.Color(
        "offer:N", legend=None,
        scale=alt.Scale(domain=offers, range=[_FIELDS[at % len(_FIELDS)] for at in range(len(offers))]),
    )  # fmt: skip
    base = alt.Chart(frame)
    lines = base.mark_line(interpolate="step-after", strokeWidth=3).encode(days, y, colour)
    points = base.mark_point(filled=True, size=90, opacity=1.0).encode(days, y, colour)
    last = frame.groupby("offer", sort=False).tail(1)
    words = alt.Chart(last).mark_text(align="left", dx=10, fontSize=_TEXT_PX, color=colours.text).encode(
        days, y, alt.Text("offer:N")
    )  # fmt: skip
    _draw(alt.layer(lines, points, words).properties(height=300), alt_text)
