"""What the store knows of recipes, batches and jars."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from optimizer.store import batches_kept, jars_kept, recipes_kept
from optimizer.store.batches_read import read_batches
from optimizer.store.connected import Connected
from optimizer.store.faults import Unknown
from optimizer.store.ledger import sound
from optimizer.store.models import Batch, Booking, Change, JarsKept, JarsMade, KeptRecipe, Kitchen, Trace
from optimizer.store.tables import batches, recipes
from optimizer.store.tracing import follow


class Cooking(Connected):
    """The part of the store that a cook writes."""

    def keep_recipe(
        self,
        kitchen: Kitchen,
        *,
        product: str,
        request: Mapping[str, Any],
        inputs: Mapping[str, Any],
        document: Mapping[str, Any],
        who: str = "",
    ) -> KeptRecipe:
        """Keeps a recipe with all it was made from; the same one again is kept once.

        Parameters
        ----------
        product
            What it makes.
        request, inputs, document
            What was asked, everything it was answered from, and the answer; JSON values only.

        Raises
        ------
        StoreFault
            Something in it is not a JSON value.
        """
        with self._writing(kitchen) as connection:
            return recipes_kept.keep(
                connection,
                kitchen.id,
                product=product,
                request=request,
                inputs=inputs,
                document=document,
                at=self._now(),
                who=who,
            )

    def recipes(self, kitchen: Kitchen) -> tuple[KeptRecipe, ...]:
        """Every recipe that was kept, newest first."""
        with self._reading() as connection:
            return recipes_kept.read_recipes(connection, kitchen.id)

    def recipe(self, kitchen: Kitchen, code: str) -> KeptRecipe:
        """One recipe; `Unknown` where there is none of that code."""
        with self._reading() as connection:
            found = recipes_kept.read_recipes(connection, kitchen.id, recipes.c.code == sound(code, "the code"))
        if not found:
            raise Unknown(f"recipe {code} is not among those kept; look at the list of recipes")
        return found[0]

    def open_batch(
        self,
        kitchen: Kitchen,
        *,
        recipe: str,
        code: str | None = None,
        product: str,
        uses: Mapping[str, int],
        comes_in: Change | None = None,
        came_in: str = "",
        expect: int | None = None,
        who: str = "",
    ) -> Batch:
        """Opens a batch and takes its lots: whole or not at all, with the goods that come in for it.

        Parameters
        ----------
        recipe : str
            Code of the kept recipe it follows; empty: none was kept.
        code : str, optional
            Its own code; None: made from the day.
        uses : Mapping[str, int]
            Lot -> g (or pieces) taken.
        comes_in : Change, optional
            Goods that come in first, on a booking of their own: taking the batch back leaves them on the shelf.
        came_in : str
            What that booking says.
        expect : int, optional
            The newest booking the caller has seen; `MovedOn` where another came in between.

        Raises
        ------
        NotEnough
            A lot holds less than is asked for; all such lots are named.
        Unknown
            No such lot or recipe.
        """
        with self._writing(kitchen) as connection:
            number = batches_kept.start(
                connection,
                kitchen.id,
                recipe=recipe,
                code=code,
                product=product,
                uses=uses,
                comes_in=comes_in,
                came_in=came_in,
                expect=expect,
                at=self._now(),
                who=who,
            )
            return read_batches(connection, kitchen.id, batches.c.id == number)[0]

    def add_reading(
        self,
        kitchen: Kitchen,
        batch: str,
        *,
        figure: str,
        value: float,
        unit: str,
        at: datetime | None = None,
        who: str = "",
    ) -> None:
        """Writes down what was read at the pan; `at` with its zone, None: now. A reading again is a new line."""
        with self._writing(kitchen) as connection:
            now = self._now()
            batches_kept.note(
                connection, kitchen.id, batch, figure=figure, value=value, unit=unit, at=at or now, now=now, who=who
            )

    def finish_batch(
        self,
        kitchen: Kitchen,
        batch: str,
        *,
        made_g: int,
        jars: Sequence[JarsMade],
        packaging: Mapping[str, int] | None = None,
        who: str = "",
    ) -> Batch:
        """Books what came out of a batch, whole or not at all.

        Parameters
        ----------
        made_g : int
            Finished product [g].
        jars : sequence of JarsMade
            What was filled; jars without a code get one.
        packaging : Mapping[str, int], optional
            Lot of jars, lids, labels -> pieces used.

        Raises
        ------
        NotEnough
            Fewer pieces of packaging are on hand.
        StoreFault
            The batch is finished already, or a code is in use.
        """
        with self._writing(kitchen) as connection:
            number = batches_kept.finish(
                connection,
                kitchen.id,
                batch,
                made_g=made_g,
                filled=jars,
                packaging=packaging or {},
                at=self._now(),
                who=who,
            )
            return read_batches(connection, kitchen.id, batches.c.id == number)[0]

    def batches(self, kitchen: Kitchen) -> tuple[Batch, ...]:
        """Every batch, newest first; also those that were taken back (state `undone`)."""
        with self._reading() as connection:
            return read_batches(connection, kitchen.id)

    def jars(self, kitchen: Kitchen) -> tuple[JarsKept, ...]:
        """Jars that were filled, oldest first, with how many are still here."""
        with self._reading() as connection:
            return jars_kept.read_jars(connection, kitchen.id)

    def take_jars(self, kitchen: Kitchen, counts: Mapping[str, int], *, why: str = "", who: str = "") -> Booking:
        """Books jars out: code -> how many were sold, given away or broken.

        Raises
        ------
        NotEnough
            More than there are.
        Unknown
            No such jars.
        """
        with self._writing(kitchen) as connection:
            return jars_kept.take_away(connection, kitchen.id, counts, why=why, at=self._now(), who=who)

    def trace(self, kitchen: Kitchen, code: str) -> Trace:
        """From a jar or batch back to lots and suppliers, from a lot forward to jars; `Unknown` for another code."""
        with self._reading() as connection:
            return follow(connection, kitchen.id, code)
