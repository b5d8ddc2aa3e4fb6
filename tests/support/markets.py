"""Random small markets for the blend's tests: invented lots and offers around the figures of the book."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from hypothesis import strategies as st

from optimizer.blend.request import Request
from optimizer.inputs.book import load_book
from optimizer.inputs.models import Jar, Lot, Offer, Pan, Site

DAY = date(2026, 7, 4)
BOOK = load_book()
FRUITS = sorted(item for item, part in BOOK.fruits.items() if part.brix_fraction and part.acid_fraction)
CITRUS = sorted(item for item in FRUITS if BOOK.fruits[item].is_citrus)
PRODUCTS = sorted(BOOK.products)
STANDARDS = ("codex", "eu-2001", "eu-2026", "uk", "us", "india", "canada", "anz", "none")


@dataclass(frozen=True)
class Market:
    request: Request
    site: Site
    lots: tuple[Lot, ...]
    offers: tuple[Offer, ...]


def fruit_lot(code: str, item: str, kg: float = 500.0, worth: float = 0.2, **measured) -> Lot:
    """A lot of sound fruit with nothing measured unless said."""
    return Lot(lot=code, item=item, kind="fruit", on_hand_kg=kg, worth_uncooked_per_kg=worth, **measured)


def offer(code: str, item: str, price: float, **more) -> Offer:
    """An offer of one ingredient of the book."""
    return Offer(
        offer=code, supplier="an invented supplier", item=item, kind=BOOK.ingredients[item].kind, price=price, **more
    )


def usual_offers(sugar: float = 0.9, citric: float = 2.0, pectin: float = 18.0) -> tuple[Offer, ...]:
    """Sugar, citric acid, pectin of medium speed, buffer salt."""
    return (
        offer("S", "cane/beet sugar, white", sugar),
        offer("A", "citric acid", citric),
        offer("P", "pectin, HM (powder, grade 150)", pectin, setting="medium"),
        offer("B", "trisodium citrate dihydrate", 3.0),
    )


def low_sugar_offers(pectin: float = 30.0, calcium: float = 4.0, **more) -> tuple[Offer, ...]:
    """What sets a spread: low-methoxyl pectin and a calcium salt; other products leave both out."""
    return (
        offer("LM", "pectin, low-methoxyl (LM)", pectin),
        offer("CA", more.pop("salt", "calcium chloride dihydrate"), calcium, **more),
    )


@st.composite
def markets(draw) -> Market:
    """Two to six lots and seven to ten offers; some are dear, some scarce, some measured."""
    product = draw(st.sampled_from(PRODUCTS))
    pool = CITRUS if product == "marmalade" else FRUITS
    items = draw(st.lists(st.sampled_from(pool), min_size=2, max_size=6, unique=True))
    money = st.floats(0.02, 2.0).map(lambda v: round(v, 3))
    lots = []
    for number, item in enumerate(items):
        part = BOOK.fruits[item]
        measured = {}
        if draw(st.booleans()):
            measured["brix_fraction"] = part.brix_fraction.value * draw(st.floats(0.85, 1.15))
        if part.is_low_acid or draw(st.booleans()):
            measured["ph"] = part.ph.value + draw(st.floats(-0.15, 0.15))
        lots.append(fruit_lot(f"F{number}", item, kg=draw(st.floats(2.0, 300.0)), worth=draw(money), **measured))
    offers = list(usual_offers(draw(money), draw(st.floats(0.5, 4.0)), draw(st.floats(5.0, 40.0))))
    if draw(st.booleans()):
        offers.append(offer("G", "liquid glucose / corn syrup", draw(money)))
    if draw(st.booleans()):
        offers.append(offer("L", "lemon juice, fresh", draw(money)))
    if draw(st.booleans()):
        offers.append(
            offer(
                "Q",
                "pectin, HM (powder, grade 150)",
                draw(st.floats(5.0, 40.0)),
                grade=draw(st.floats(90.0, 200.0)),
                setting="slow",
            )
        )
    salt = draw(st.sampled_from(["calcium chloride dihydrate", "calcium lactate pentahydrate"]))
    offers += low_sugar_offers(draw(st.floats(10.0, 60.0)), draw(st.floats(1.0, 20.0)), salt=salt)
    site = Site(
        altitude_m=draw(st.floats(0.0, 2500.0)),
        ph_meter=draw(st.sampled_from(["yes", "no"])),
        pans=draw(st.sampled_from([(), (Pan(capacity_L=60.0, power_kW=15.0, fuel_price=1.4, efficiency=0.5),)])),
        jars=(Jar(name="380 mL", net_kg=0.45, cost=0.3),),
    )
    request = Request(
        product=product,
        batch_kg=draw(st.sampled_from([10.0, 50.0, 200.0])),
        on=DAY,
        standard=draw(st.sampled_from(STANDARDS)),
    )
    return Market(request=request, site=site, lots=tuple(lots), offers=tuple(offers))
