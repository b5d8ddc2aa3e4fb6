"""The blend's linear program written a second time, by other code, for the tests alone.

Nothing here calls `optimizer.blend.rules`, `optimizer.physics` or `optimizer.solver`: chemistry is written out
again from the printed constants, limits are looked up again in the book, the matrix is plain lists for
`scipy.optimize.linprog`. What is shared are the inputs: streams, product, limits, and the state the recipe settled
at (inverted share, ionic strength, boiling temperature, declared fruit content, setting speed).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.optimize import linprog

PK = {"citric": (3.128, 4.761, 6.396), "malic": (3.459, 5.097), "tartaric": (3.036, 4.366)}


def _log_gamma(charge: int, ionic: float) -> float:
    root = math.sqrt(ionic)
    return -0.509 * charge**2 * (root / (1.0 + root) - 0.3 * ionic)


def _charge(acid: str, ph: float, ionic: float) -> float:
    """Mean charge of an acid: populations of its anions from stepwise constants."""
    weights = [1.0]
    for j, pk in enumerate(PK[acid], start=1):
        shifted = pk + _log_gamma(j, ionic) - _log_gamma(j - 1, ionic)
        weights.append(weights[-1] * 10.0 ** (ph - shifted))
    return sum(j * w for j, w in enumerate(weights)) / sum(weights)


def _solubility(t: float) -> float:
    percent = 64.447 + 8.222e-2 * t + 1.6169e-3 * t**2 - 1.558e-6 * t**3 - 4.63e-8 * t**4
    return percent / (100.0 - percent)


def _latent(t: float) -> float:
    return 2491.73 - 2.06007 * t - 2.93287e-3 * t**2


def _water_boils(altitude_m: float) -> float:
    """Boiling point of water by bisection on the saturation pressure."""
    pressure = 101.325 * (1.0 - 0.0065 * altitude_m / 288.15) ** 5.255876
    a = (-7.85951783, 1.84408259, -11.7866497, 22.6807411, -15.9618719, 1.80122502)
    powers = (1.0, 1.5, 3.0, 3.5, 4.0, 7.5)

    def saturation(t: float) -> float:
        kelvin = t + 273.15
        q = 1.0 - kelvin / 647.096
        return 22064.0 * math.exp(647.096 / kelvin * sum(k * q**p for k, p in zip(a, powers, strict=True)))

    low, high = 50.0, 130.0
    for _ in range(80):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if saturation(middle) < pressure else (low, middle)
    return 0.5 * (low + high)


@dataclass
class State:
    inverted: float
    ionic: float
    boil_C: float
    declared: float | None
    speed_ph: float | None
    group_mix: bool = False
    drawn_in: dict | None = None  # by row id: what the prediction drew the bound of solids in by


FUEL_KJ = {"lpg": 46000.0, "wood": 15600.0, "natural gas": 48000.0, "electricity": 3600.0}


class Matrix:
    """Rows as dictionaries column -> coefficient; columns are stream numbers, "water", "boil", and the constant F."""

    def __init__(self, n: int, batch: float) -> None:
        self.n, self.batch = n, batch
        self.less: list[tuple[np.ndarray, float]] = []
        self.equal: list[tuple[np.ndarray, float]] = []

    def vector(self, parts: dict) -> tuple[np.ndarray, float]:
        """Coefficients of streams, water, boil; and the constant that F contributes."""
        row = np.zeros(self.n + 2)
        for key, value in parts.items():
            if key == "water":
                row[self.n] += value
            elif key == "boil":
                row[self.n + 1] += value
            elif key != "F":
                row[key] += value
        return row, parts.get("F", 0.0) * self.batch

    @staticmethod
    def _scaled(row: np.ndarray, value: float) -> tuple[np.ndarray, float]:
        """Largest coefficient 1: scipy's tolerance of 1e-7 is absolute, and a pH row is a thousandth of a mol."""
        size = float(np.max(np.abs(row))) or 1.0
        return row / size, value / size

    def at_least(self, parts: dict, value: float = 0.0) -> None:
        row, constant = self.vector(parts)
        self.less.append(self._scaled(-row, constant - value))

    def at_most(self, parts: dict, value: float = 0.0) -> None:
        row, constant = self.vector(parts)
        self.less.append(self._scaled(row, value - constant))

    def equals(self, parts: dict, value: float = 0.0) -> None:
        row, constant = self.vector(parts)
        self.equal.append(self._scaled(row, value - constant))


def _figures(book, standard, product, legal_name, parameter, kind="min"):
    """fruit -> figure; '' for all others, from the table of limits."""
    found = {}
    for limit in book.limits:
        fits = limit.standard == standard and limit.product == product and limit.parameter == parameter
        if not fits or limit.value is None or limit.legal_name not in ("", legal_name) or limit.kind != kind:
            continue
        if limit.condition:
            found.setdefault("?" + limit.condition, limit)
        elif limit.fruits:
            for fruit in limit.fruits:
                found.setdefault(fruit, limit)
        else:
            found.setdefault("", limit)
    return found


def second_opinion(streams, product, book, site, batch, standard, legal_name, state: State, keeps="heat"):
    """Cost of the cheapest blend, or None where there is none, by scipy on a matrix of our own."""
    n = len(streams)
    m = Matrix(n, batch)
    y = state.inverted

    def each(figure, only=lambda s: True):
        return {i: figure(s.per_kg) for i, s in enumerate(streams) if only(s)}

    def combine(*terms):
        total: dict = {}
        for factor, parts in terms:
            for key, value in parts.items():
                total[key] = total.get(key, 0.0) + factor * value
        return total

    is_fruit = [s.kind == "fruit" for s in streams]
    fruit = {i: s.per_kg.fruit_equivalent for i, s in enumerate(streams) if is_fruit[i]}
    not_fruit = {i: s.per_kg.solids_fraction for i, s in enumerate(streams) if not is_fruit[i]}
    sweet = {i: s.per_kg.solids_fraction for i, s in enumerate(streams) if s.kind == "sweetener"}

    def water(share):
        return combine(
            (1.0, each(lambda c: c.water_fraction - 0.0526 * share * c.sucrose_fraction)),
            (1.0, {"water": 1.0, "boil": -1.0}),
        )

    def sucrose(share):
        return each(lambda c: (1.0 - share) * c.sucrose_fraction)

    def invert(share):
        return each(lambda c: c.glucose_fraction + c.fructose_fraction + 1.0526 * share * c.sucrose_fraction)

    m.equals(combine((1.0, dict.fromkeys(range(n), 1.0)), (1.0, {"water": 1.0, "boil": -1.0, "F": -1.0})))

    # solids
    gain = 1.0526 * (1.0 - 0.022) - 1.0
    reading = each(lambda c: c.reading_fraction + gain * y * c.sucrose_fraction)
    insoluble = each(lambda c: c.insoluble_fraction)
    least = product.reading_fraction.least
    law = _figures(book, standard, product.name, legal_name, "soluble_solids").get("")
    if law is not None:
        least = law.value if least is None else max(least, law.value)
    drawn_in = state.drawn_in or {}
    least = None if least is None else least + drawn_in.get("least_solids", 0.0)
    if least is not None:
        m.at_least(combine((1.0, reading), (least, insoluble), (1.0, {"F": -least})))
    most = product.reading_fraction.most
    law = _figures(book, standard, product.name, legal_name, "soluble_solids", "max").get("")
    if law is not None:
        most = law.value if most is None else min(most, law.value)
    most = None if most is None else most - drawn_in.get("most_solids", 0.0)
    if most is not None:
        m.at_most(combine((1.0, reading), (most, insoluble), (1.0, {"F": -most})))

    # fruit content
    laws = _figures(book, standard, product.name, legal_name, "fruit_content")
    by_sweetener = _figures(book, standard, product.name, legal_name, "fruit_per_sweetener_solids")
    floor, default = product.least_fruit_floor.least, product.fruit_per_finished.least
    asks = {}
    for name in {s.fruit for s in streams if s.fruit}:
        law = laws.get(name, laws.get(""))
        sweet_law = by_sweetener.get(name, by_sweetener.get(""))
        if law is not None:
            asks[name] = max(law.value, floor or 0.0)
        elif sweet_law is None and default is not None:
            asks[name] = default
    if asks:
        if len(set(asks.values())) == 1:
            value = next(iter(asks.values()))
            m.at_least(combine((1.0, fruit), (1.0, {"F": -value})))
        else:
            k = state.declared
            m.at_least(combine((1.0, fruit), (1.0, {"F": -k})))
            weighted = {i: asks.get(streams[i].fruit, 0.0) * e for i, e in fruit.items()}
            m.at_most(combine((1.0, weighted), (-k, fruit)))
    ratios = [
        (by_sweetener.get(s.fruit) or by_sweetener.get("")).value
        for s in streams
        if s.fruit and (by_sweetener.get(s.fruit) or by_sweetener.get(""))
    ]
    ratio = max(ratios) if ratios else None
    if state.group_mix:
        ratio = by_sweetener["?mixed fruit with any of Group II"].value
        laws = {i: by_sweetener.get(streams[i].fruit) or by_sweetener.get("") for i in fruit}
        mild = {i: e for i, e in fruit.items() if (law := laws[i]) is not None and law.value <= ratio}
        m.at_least(combine((1.0, mild), (-0.2, fruit)))  # a fifth of each fruit in a mix, 21 CFR 150.160
    if product.fruit_per_sweetener_solids.least is not None:
        ratio = max(ratio or 0.0, product.fruit_per_sweetener_solids.least)
    if ratio:
        factors = _figures(book, standard, product.name, legal_name, "juice_factor", "exact")
        counted = fruit
        if factors:
            of = {i: factors.get(streams[i].fruit) or factors.get("") for i in fruit}
            counted = {i: f.value * streams[i].per_kg.reading_fraction if f else 0.0 for i, f in of.items()}
        m.at_least(combine((1.0, counted), (-ratio, not_fruit)))
    for parameter, share in (("flesh", lambda s: s.flesh_fraction), ("peel", lambda s: s.peel_fraction)):
        law = _figures(book, standard, product.name, legal_name, parameter).get("")
        if law is not None:
            parts = {i: e * share(streams[i]) for i, e in fruit.items()}
            m.at_least(combine((1.0, parts), (1.0, {"F": -law.value})))
    for limit in book.limits:
        fits = (limit.standard, limit.product, limit.parameter, limit.kind) == (
            standard,
            product.name,
            "fruit_share",
            "max",
        )
        if fits and limit.legal_name in ("", legal_name):
            for name in limit.fruits:
                mine = {i: e for i, e in fruit.items() if streams[i].fruit == name}
                if mine:
                    m.at_most(combine((1.0, mine), (-limit.value, fruit)))
    if any(s.fruit == "elderberry" for s in streams):
        cap = book.settings["most_elderberry_share"].value
        elder = {i: e for i, e in fruit.items() if streams[i].fruit == "elderberry"}
        m.at_most(combine((1.0, elder), (-cap, fruit)))

    # pectin
    firmness = product.firmness.least
    if firmness:
        m.at_least(combine((1.0, each(lambda c: c.pectin_strength)), (1.0, {"F": -0.65 * firmness})))
    if product.lm_pectin.most is not None:
        powder = {i: 1.0 for i, s in enumerate(streams) if s.is_lm_pectin}
        m.at_least(combine((1.0, powder), (1.0, {"F": -product.lm_pectin.least})))
        if powder:
            m.at_most(combine((1.0, powder), (1.0, {"F": -product.lm_pectin.most})))
            mg = each(lambda c: c.calcium_mg)
            m.at_least(combine((1.0, mg), (-1000.0 * product.calcium_mg_per_g.least, powder)))
            m.at_most(combine((1.0, mg), (-1000.0 * product.calcium_mg_per_g.most, powder)))
    elif product.added_pectin.most is not None:
        graded = {i: s.grade_per_kg / 150.0 for i, s in enumerate(streams) if s.grade_per_kg}
        cap = product.added_pectin.most
        law = _figures(book, standard, product.name, legal_name, "pectin", "max").get("")
        if law is not None:
            cap = min(cap, law.value)
        if graded:
            m.at_most(combine((1.0, graded), (1.0, {"F": -cap})))

    # pH: charge balance at the bound
    def ph_parts(ph):
        parts = {}
        for i, s in enumerate(streams):
            c = s.per_kg
            mean = sum(share * _charge(acid, ph, state.ionic) for acid, share in c.acid_mix.items())
            parts[i] = c.acid_mol * mean - c.strong_ion_mol
        hydrogen = 10.0**-ph / 10.0 ** _log_gamma(1, state.ionic)
        return combine((1.0, parts), (-hydrogen, water(y)))

    upper = product.ph.most
    law = _figures(book, standard, product.name, legal_name, "ph", "max").get("")
    candidates = [v for v in (upper, law.value if law else None, state.speed_ph) if v is not None]
    if candidates:
        draw = book.setting("ph_draw_in_meter" if site.ph_meter == "yes" else "ph_draw_in_no_meter")
        m.at_least(ph_parts(min(candidates) - draw))
    lower = product.ph.least
    names = {s.fruit for s in streams if s.fruit}
    if lower is not None:
        if names and names <= {"roselle", "cranberry"}:
            lower = min(lower, 2.5)
        m.at_most(ph_parts(lower))

    # acid and salt
    acid = each(lambda c: c.titratable_acid_fraction)
    for kind, mine in (("min", product.acid_fraction.least), ("max", product.acid_fraction.most)):
        law = _figures(book, standard, product.name, legal_name, "acid_fraction", kind).get("")
        values = [v for v in (mine, law.value if law else None) if v is not None]
        if values and kind == "min":
            m.at_least(combine((1.0, acid), (1.0, {"F": -max(values)})))
        elif values:
            m.at_most(combine((1.0, acid), (1.0, {"F": -min(values)})))
    added = each(lambda c: c.titratable_acid_fraction, lambda s: s.kind == "acid")
    if added and product.added_acid.most is not None:
        m.at_most(combine((1.0, added), (1.0, {"F": -product.added_acid.most})))
    for_calcium = ("calcium chloride dihydrate", "calcium lactate pentahydrate")
    salts = {i: 1.0 for i, s in enumerate(streams) if s.kind == "salt" and s.item not in for_calcium}
    if salts and product.buffer_salt.most is not None:
        m.at_most(combine((1.0, salts), (1.0, {"F": -product.buffer_salt.most})))

    # crystals
    if product.crystals == "row":
        share = 0.6 * y
        t = site.storage_C if site.storage_C is not None else 10.0
        load = combine(
            (1.0, sucrose(share)),
            (0.47, invert(share)),
            (0.395, each(lambda c: c.other_saccharides_fraction)),
            (0.86, acid),
        )
        m.at_most(combine((1.0, load), (-_solubility(t), water(share))))

    # preservatives
    sulphited = any(s.is_sulphited for s in streams)
    shares: dict = {}
    for which in ("so2", "benzoic", "sorbic"):
        table = _figures(book, standard, product.name, legal_name, which, "max")
        law = (table.get("?sulphited fruit") if sulphited else None) or table.get("")
        mg = each(lambda c, which=which: getattr(c, f"{which}_mg"))
        if law is None:
            continue
        if any(v > 0 for v in mg.values()):
            m.at_most(combine((1.0, mg), (1.0, {"F": -law.value})))
        if law.value > 0:
            shares = combine((1.0, shares), (1.0 / law.value, mg))
    acids = combine((1.0, each(lambda c: c.benzoic_mg)), (1.0, each(lambda c: c.sorbic_mg)))
    if any(v > 0 for v in acids.values()):
        table = _figures(book, standard, product.name, legal_name, "preservatives_together", "max")
        if "?alternatives" in table:
            m.at_most(combine((1.0, shares), (1.0, {"F": -table["?alternatives"].value})))
        elif "" in table:
            m.at_most(combine((1.0, acids), (1.0, {"F": -table[""].value})))
    if keeps == "preservative":
        m.at_least(combine((1.0, shares), (1.0, {"F": -0.9})))

    # amounts
    for word, window in (("glucose", product.glucose_syrup_most), ("jaggery", product.jaggery_most)):
        mine = {i: v for i, v in sweet.items() if word in streams[i].item}
        if mine and window.most is not None:
            m.at_most(combine((1.0, mine), (-window.most, sweet)))
    if product.added_water.most is not None:
        m.at_most({"water": 1.0, "F": -product.added_water.most})
    off = product.boil_off
    if off.most is not None:
        m.at_most({"boil": 1.0, "F": -off.most})
    if off.least:
        m.at_least({"boil": 1.0, "F": -off.least})
    for i, s in enumerate(streams):
        if s.received_most_kg is not None:
            m.at_most({i: 1.0}, s.received_most_kg * s.usable_fraction)

    # money
    cost = np.zeros(n + 2)
    for i, s in enumerate(streams):
        cost[i] = s.price_per_received_kg / s.usable_fraction
    if site.pans and product.is_cooked:
        pan = site.pans[0]  # the markets have one pan
        per_kJ = pan.fuel_price / (pan.efficiency * FUEL_KJ[pan.fuel])
        rise = state.boil_C - 20.0
        fall = 2.971 - 0.46 - 0.0075 * 0.5 * (state.boil_C + 20.0)  # cp = 4.184 - fall * solids, sugars alone
        for i, s in enumerate(streams):
            cost[i] += per_kJ * rise * (4.184 - fall * s.per_kg.solids_fraction)
        cost[n] += per_kJ * rise * 4.184
        cost[n + 1] += per_kJ * _latent(_water_boils(site.altitude_m))
    bounds = [(0.0, None)] * (n + 1) + [(0.0, None if product.is_cooked else 0.0)]
    answer = linprog(
        cost,
        A_ub=np.array([row for row, _ in m.less]),
        b_ub=np.array([value for _, value in m.less]),
        A_eq=np.array([row for row, _ in m.equal]),
        b_eq=np.array([value for _, value in m.equal]),
        bounds=bounds,
        method="highs-ipm",
    )
    return float(answer.fun) if answer.status == 0 else None
