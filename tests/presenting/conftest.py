"""A small answer, clash and checked formula, made by hand, and their snapshots."""

import os
from pathlib import Path

import pytest
from msgspec.structs import replace

from optimiser.domain.catalogue import Source
from optimiser.domain.caution import CautionLine
from optimiser.domain.material import Origin
from optimiser.domain.rule import Row, Rule
from optimiser.domain.wording import Fixed
from optimiser.explaining.answer import (
    AllergenLine,
    Answer,
    Change,
    Checked,
    Clash,
    FormulaLine,
    LabelName,
    LeftOut,
    Price,
    Proof,
    PropertyLine,
    RuleLine,
    Unused,
)
from optimiser.explaining.basis import Basis, LawLine

BASIS = Basis(
    law=(LawLine("EU", 63, True, ("The Regulation, 2015",)),),
    unknown_contents=(),
    calibrated=(),
    workshop="demo",
    dropped=(),
    eased=(),
    silent=(),
    cautious=False,
)
SNAPSHOTS = Path(__file__).parent / "snapshots"


def rule(sentence, limit, side="max", unit="%", owner="wish", **more):
    fields = {
        "id": f"{owner}/{sentence}",
        "kind": "band",
        "amounts": Row.of([(0, 1.0)]),
        "origin": Origin("bar.toml", field=f"bands.{sentence.split(' at')[0]}.{side}"),
    }
    return Rule(
        wording=Fixed(sentence),
        side=side,
        limit=limit,
        unit=unit,
        owner=owner,
        **(fields | more),
    )


def line(name, category, percent, price, base):
    return FormulaLine(
        ingredient=name.replace(" ", "_"),
        name=name,
        category=category,
        percent=percent,
        grams=percent * 20,
        price_per_kg=price,
        cost_per_kg_product=None if price is None else price * percent / 100,
        base_percent=base,
    )


FORMULA = (
    line("cocoa butter", "hard butter", 40.0, 20.0, 45.0),
    line("shea butter", "soft butter", 22.437, 15.0, 21.0),
    line("carnauba wax", "wax", 3.0, 11.0, 2.0),
    line("sweet almond oil", "liquid oil", 0.0, 11.0, 31.0),
    line("sunflower oil, high oleic", "liquid oil", 33.313, 5.0, 0.0),
    line("vitamin E", "antioxidant", 0.5, 60.0, 0.5),
    line("lavender oil", "scent", 0.75, 120.0, 0.5),
)
BAND = rule("hard butter at least 40 %", 40.0, "min")
WAX = rule("carnauba wax at most 3 % (glassy above that)", 3.0, kind="limit")
LAW = rule(
    "lavender whole oil at most 0.75 % (EU, 45)",
    0.75,
    owner="law",
    origin=Origin("catalogues/markets/restricted.csv", row=7),
    source="eu_annex_iii",
)
FIRM = rule("solid fat at 30 °C over the lipids at least 30 %", 30.0, "min")
LOOSE = rule("liquid oil at most 60 %", 60.0)
TOTAL = rule(
    "the percentages add up to 100 %", 100.0, "exact", owner="arithmetic", kind="total"
)
SOURCES = {
    "eu_annex_iii": Source("eu_annex_iii", "Regulation, Annex III", None, "2026-11-25")
}


@pytest.fixture
def answer():
    return Answer(
        title="Winter massage bar, nut-free",
        file="bar.toml",
        use="leave-on",
        markets=("EU",),
        currency="EUR",
        cost_per_kg=14.561,
        base_cost_per_kg=16.68,
        batch_kg=2.0,
        aims=(("cost", 14.561, "EUR/kg"),),
        formula=FORMULA,
        rules=(
            RuleLine(TOTAL, 100.0, 0.0, binding=True),
            RuleLine(
                BAND,
                40.0,
                0.0,
                binding=True,
                ease=Price("cost", -0.05, 36.5),
                tighten=Price("cost", 0.06, 44.0),
            ),
            RuleLine(
                WAX,
                3.0,
                0.0,
                binding=True,
                ease=Price("cost", -0.0009, 3.3),
                tighten=Price("cost", 0.1, None),
            ),
            RuleLine(
                LAW,
                0.75,
                0.0,
                binding=True,
                ease=Price("cost", -1.0, 2.0),
                tighten=None,
            ),
            RuleLine(FIRM, 30.9, 0.9, binding=False),
            RuleLine(LOOSE, 33.313, 26.687, binding=False),
        ),
        unused=(
            Unused("mango_butter", "mango butter", 21.0, 18.4),
            Unused("olive_oil", "olive oil", 9.0, 5.0),
            Unused("kokum_butter", "kokum butter", 30.0, None),
        ),
        properties=(
            PropertyLine("solid fat", 30.0, "lipids", 28.0, 30.9, 33.5, "%"),
            PropertyLine(
                "density", 20.0, "product", None, None, None, "kg/m^3", ("vitamin E",)
            ),
        ),
        change=Change(36.25, 20.0, 5.0),
        proof=Proof(0.0, 2e-16),
        choices_kept=False,
        solver="highs",
        allergens=(AllergenLine("soy", "vitamin E", flag="ask_the_supplier"),),
        label_names=(LabelName("EU", "Linalool", 0.3, 0.001, ("lavender oil",)),),
        left_out=(
            LeftOut("bacuri", "bacuri butter", "no price is known in workshop 'demo'"),
            LeftOut("murumuru", "murumuru", "no price is known in workshop 'demo'"),
        ),
        cautions=(
            CautionLine(
                "slips",
                80.0,
                "Oils make tubs slippery: say so. On the label.",
                "Oil coats.",
                names=("oil",),
                evidence="memory",
                source="book",
                reference="A book of fats",
            ),
            CautionLine("aid", 10.0, "Decision aid only."),
        ),
        basis=BASIS,
    )


@pytest.fixture
def clash():
    return Clash(
        title="Winter massage bar, nut-free",
        file="bar.toml",
        rules=(BAND, replace(WAX, owner="law")),
        causes=("no exfoliant is left once tree nuts are out",),
        left_out=(LeftOut("bacuri", "bacuri butter", "no price is known"),),
    )


@pytest.fixture
def checked():
    return Checked(
        title="Winter massage bar, nut-free",
        file="bar.toml",
        use="leave-on",
        markets=("EU",),
        currency="EUR",
        cost_per_kg=14.561,
        batch_kg=2.0,
        formula=FORMULA,
        lines=(
            RuleLine(BAND, 38.5, -1.5, binding=False),
            RuleLine(WAX, 3.0, 0.0, binding=True),
            RuleLine(LAW, 0.74, 0.01, binding=False),
            RuleLine(LOOSE, 33.3, 26.7, binding=False),
        ),
        properties=(),
        change=Change(36.25, 20.0, 5.0),
        status="broken",
        basis=BASIS,
        missing=("solid fat was not judged: nothing is known of it for X",),
        cautions=(CautionLine("aid", 10.0, "Decision aid only."),),
    )


@pytest.fixture
def sources():
    return SOURCES


@pytest.fixture
def snapshot():
    """Compare a text with the file beside the tests.

    SNAPSHOTS=write in the environment writes the files anew, to be read before
    they are kept.
    """

    def compare(text, name):
        path = SNAPSHOTS / name
        if os.environ.get("SNAPSHOTS") == "write":
            path.parent.mkdir(exist_ok=True)
            path.write_text(text, encoding="utf-8")
        assert text == path.read_text(encoding="utf-8")

    return compare
