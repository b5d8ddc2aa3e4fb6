"""Recipes with everything they were made from, so that each can be made again."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, insert, select

from optimizer.store.cells import from_text, to_text
from optimizer.store.codes import next_code, recipe_codes
from optimizer.store.faults import Unknown
from optimizer.store.ledger import moment, sound, stamp
from optimizer.store.models import KeptRecipe
from optimizer.store.tables import recipes


def keep(
    connection: Connection,
    kitchen_id: int,
    *,
    product: str,
    request: Mapping[str, Any],
    inputs: Mapping[str, Any],
    document: Mapping[str, Any],
    at: datetime,
    who: str,
) -> KeptRecipe:
    """Keeps a recipe; one that is kept already, word for word, is kept once."""
    texts = {"request": to_text(request), "inputs": to_text(inputs), "document": to_text(document)}
    digest = hashlib.sha256("\n".join([product, *texts.values()]).encode()).hexdigest()
    known = read_recipes(connection, kitchen_id, recipes.c.digest == digest)
    if known:
        return known[0]
    values = {
        "kitchen_id": kitchen_id,
        "code": next_code("R", at, recipe_codes(connection, kitchen_id)),
        "product": sound(product, "the product"),
        "at": stamp(at),
        "who": sound(who, "the name"),
        "digest": digest,
        **texts,
    }
    return _recipe(connection.execute(insert(recipes).values(values).returning(recipes)).one())


def read_recipes(connection: Connection, kitchen_id: int, *where: ColumnElement[bool]) -> tuple[KeptRecipe, ...]:
    """Recipes that fit, newest first."""
    query = select(recipes).where(recipes.c.kitchen_id == kitchen_id, *where).order_by(recipes.c.id.desc())
    return tuple(_recipe(row) for row in connection.execute(query))


def recipe_id(connection: Connection, kitchen_id: int, code: str) -> int:
    """The line of a recipe."""
    sound(code, "the code of the recipe")
    query = select(recipes.c.id).where(recipes.c.kitchen_id == kitchen_id, recipes.c.code == code)
    found: int | None = connection.execute(query).scalar()
    if found is None:
        raise Unknown(f"recipe {code} is not among those kept; keep the recipe first")
    return found


def _recipe(row: Any) -> KeptRecipe:
    return KeptRecipe(
        code=row.code,
        product=row.product,
        at=moment(row.at),
        who=row.who,
        request=from_text(row.request),
        inputs=from_text(row.inputs),
        document=from_text(row.document),
    )
