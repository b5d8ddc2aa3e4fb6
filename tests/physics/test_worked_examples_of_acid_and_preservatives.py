"""Published worked examples on titration, pectin grade and preservatives: every answer of each case is compared."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from optimizer.physics.acidity import titration_acid_fraction
from optimizer.physics.pectin import grade_from_sag
from optimizer.physics.preservatives import SALTS, salt_kg, undissociated_fraction

FOLDER = Path(__file__).resolve().parents[1] / "published" / "worked_examples"
NAMES = ("D13", "D14", "D18", "D21", "D22")
CASES: dict[str, Any] = {name: json.loads((FOLDER / f"{name}.json").read_text(encoding="utf-8")) for name in NAMES}
GIVEN = {name: {key: entry["value"] for key, entry in case["inputs"].items()} for name, case in CASES.items()}
KMS = "potassium metabisulphite"


def kms_by_rule() -> float:
    """The rule of thumb on the page, 1.5 g/L per 1000 ppm, is what the sodium salt needs: 8.9 g to the printed 9."""
    given = GIVEN["D13"]
    return float(1e3 * salt_kg("sodium metabisulphite", given["so2_wanted"] * 1e-6 * given["volume"]))


def kms_for(key: str) -> float:
    given = GIVEN["D13"]
    return float(1e3 * salt_kg(KMS, given[key] * 1e-6 * given["volume"]))


def so2_delivered() -> float:
    given = GIVEN["D13"]
    grams_per_L, ppm = given["rule_of_thumb"]
    return float(1e3 * grams_per_L * given["so2_wanted"] / ppm * SALTS[KMS].active_fraction)


def mango_acidity() -> float:
    given = GIVEN["D14"]
    return 100.0 * float(
        titration_acid_fraction(
            titre_mL=given["titre"],
            base_mol_per_L=given["normality"],
            sample_g=given["sample"],
            aliquot_share_fraction=given["aliquot"] / given["made_up_volume"],
            equivalent_kg_per_mol=given["equivalent_weight"] / 1e3,
        )
    )


def grade(key: str) -> float:
    given = GIVEN["D18"]
    return float(grade_from_sag(given["assumed_grade"], given[key] / 100.0))


def benzoate(grams_acid: float) -> float:
    return float(salt_kg("sodium benzoate", grams_acid))


ANSWERS: dict[tuple[str, str], Callable[[], float]] = {
    ("D13", "kms_by_rule"): kms_by_rule,
    ("D13", "so2_really_delivered"): so2_delivered,
    ("D13", "kms_for_600"): lambda: kms_for("so2_wanted"),
    ("D13", "kms_for_legal_350"): lambda: kms_for("legal_so2"),
    ("D14", "acidity"): mango_acidity,
    ("D18", "grade_at_reference_sag"): lambda: grade("sag_1"),
    ("D18", "grade_at_lower_sag"): lambda: grade("sag_2"),
    ("D18", "pectin_weighed"): lambda: GIVEN["D18"]["test_sugar"] / grade("sag_1"),
    ("D21", "g_salt_per_g_acid"): lambda: benzoate(1.0),
    ("D21", "salt_for_0.6"): lambda: benzoate(GIVEN["D21"]["limit_as_acid"][0]),
    ("D21", "salt_for_2.5"): lambda: benzoate(GIVEN["D21"]["limit_as_acid"][1]),
    **{
        ("D22", f"undissociated_{ph}"): lambda ph=ph: 100.0 * undissociated_fraction("benzoic", float(ph))  # type: ignore[misc]
        for ph in (3, 4, 5, 6)
    },
}


@pytest.mark.parametrize(("name", "answer"), ANSWERS, ids=" ".join)
def test_a_published_answer(name: str, answer: str) -> None:
    entry = {entry["name"]: entry for entry in CASES[name]["answers"]}[answer]
    assert ANSWERS[name, answer]() == pytest.approx(
        entry.get("expected", entry["printed"]), abs=entry["tolerance"], rel=0.0
    )


def test_no_answer_is_left_out() -> None:
    assert set(ANSWERS) == {(name, entry["name"]) for name, case in CASES.items() for entry in case["answers"]}


def test_the_mango_answer_holds_with_our_own_equivalent_mass() -> None:
    given = GIVEN["D14"]
    ours = titration_acid_fraction(
        titre_mL=given["titre"],
        base_mol_per_L=given["normality"],
        sample_g=given["sample"],
        aliquot_share_fraction=given["aliquot"] / given["made_up_volume"],
    )
    assert 100.0 * ours == pytest.approx(0.512, abs=0.0005)
