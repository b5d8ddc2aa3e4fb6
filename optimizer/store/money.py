"""Money in whole minor units: cents, pence, paise, or whatever a currency has.

Source of the places: ISO 4217, list one (minor units), from memory; a test compares them with the Unicode CLDR.
"""

from __future__ import annotations

from decimal import ROUND_HALF_EVEN, Decimal

from optimizer.store.faults import StoreFault

USUAL_PLACES = 2
_NONE = "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX UYI VND VUV XAF XOF XPF"
_THREE = "BHD IQD JOD KWD LYD OMR TND"
PLACES = {
    **dict.fromkeys(_NONE.split(), 0),
    **dict.fromkeys(_THREE.split(), 3),
    **dict.fromkeys(("CLF", "UYW"), 4),
}
MOST_AMOUNT = 10**9  # g or pieces that one price may be for


def places_of(currency: str) -> int:
    """Decimal places of a currency's minor unit; 2 for one that ISO 4217 does not list.

    >>> places_of("EUR"), places_of("JPY"), places_of("KWD")
    (2, 0, 3)
    """
    return PLACES.get(currency.upper(), USUAL_PLACES)


def to_minor(price: Decimal | float, currency: str) -> int:
    """A sum of money in minor units, rounded half to even.

    >>> to_minor(28.0, "EUR"), to_minor(Decimal("0.125"), "EUR")
    (2800, 12)
    """
    return int(_exact(price).scaleb(places_of(currency)).quantize(Decimal(1), ROUND_HALF_EVEN))


def from_minor(minor: int, currency: str) -> Decimal:
    """Back from minor units.

    >>> from_minor(2800, "EUR")
    Decimal('28.00')
    """
    return Decimal(minor).scaleb(-places_of(currency))


def whole_price(price: Decimal | float, currency: str, amount: int) -> tuple[int, int]:
    """A price for `amount` (g or pieces) as two whole numbers, without rounding where that can be.

    0.415 EUR per kg is no whole number of cents, but 415 cents per 10 kg is one.

    >>> whole_price(0.415, "EUR", 1000)
    (415, 10000)
    """
    if amount <= 0:
        raise StoreFault("a price is for more than nothing; give what it is for")
    exact = _exact(price).scaleb(places_of(currency))
    while exact != exact.to_integral_value() and amount * 10 <= MOST_AMOUNT:
        exact, amount = exact * 10, amount * 10
    return int(exact.quantize(Decimal(1), ROUND_HALF_EVEN)), amount


def _exact(price: Decimal | float) -> Decimal:
    exact = price if isinstance(price, Decimal) else Decimal(repr(price))  # the shortest text that means this float
    if not exact.is_finite():
        raise StoreFault("a price is a number; type it again")
    return exact
