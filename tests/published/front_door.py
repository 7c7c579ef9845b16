"""Catalogue folders and scenario files that ask what a published case asks.

One kilogram of a scenario stands for one unit of its case (a tonne, a gram, a dollar,
a serving), and 100 % for ``total`` units. Then an amount is ``percent * total / 100``
and, for a case that seeks the least, its objective is ``cost_per_kg * total``.
"""

import csv
from collections.abc import Mapping

from msgspec import Struct, field

from optimiser.domain.catalogue import fold
from optimiser.reading import read_scenario

HEADERS = {
    "materials/ingredients": "key,name,inci,category,family,aliases,vegan,palm,stage,"
    "cautions,source,note",
    "materials/properties": "ingredient,property,at,value,low,high,unit,basis,variant,"
    "evidence,source,note",
    "materials/constituents": "ingredient,constituent,low,value,high,unit,evidence,"
    "source,note",
    "materials/limits": "ingredient,whose,use,min_percent,max_percent,of,evidence,"
    "source,note",
    "materials/allergens": "ingredient,allergen,EU,GB,US,AU,CA,flag,evidence,source,"
    "note",
    "materials/sources": "key,reference,licence,read,note",
    "markets/preservatives": "market,limit,use,max_percent,counted_as,instrument,"
    "entry,verified,source,note",
    "markets/restricted": "market,limit,use,max_percent,counted_as,instrument,entry,"
    "verified,source,note",
    "markets/substances": "limit,substance,factor,note",
    "markets/shared_limits": "market,group,substance,use,max_percent,instrument,entry,"
    "verified,source,note",
    "markets/scent_allergens": "market,label_name,substance,leave_on_percent,"
    "rinse_off_percent,entry,last_day_placing,last_day_supply,verified,source,note",
    "markets/climate": "zone,kind,description,low_degC,high_degC,verified,source,note",
    "markets/sources": "key,reference,licence,read,note",
    "workshops/case/prices": "ingredient,pack,unit,price,freight,currency,date,note",
}
SCENARIO = """\
title = "{title}"
workshop = "case"
use = "rinse-off"

[aim]
order = ["cost"]
"""


class Question(Struct, frozen=True):
    """What is written for one case.

    ``prices`` is money per unit by the case's own names; ``figures`` is property ->
    name -> value; ``contents`` is constituent -> name -> percent; ``rules`` is TOML.
    """

    title: str
    citation: str
    total: float
    prices: Mapping[str, float]
    rules: tuple[str, ...]
    figures: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    contents: Mapping[str, Mapping[str, float]] = field(default_factory=dict)


def key(name):
    """The catalogue key of a case's name.

    >>> key("Peanut-B"), key("B/A")
    ('peanut_b', 'b_a')
    """
    return "".join(c if c.isalnum() else "_" for c in name.lower())


def read_question(folder, question):
    """Write a question's files into a folder and read them as a maker's."""
    rows = {name: [] for name in HEADERS}
    for name in question.prices:
        rows["materials/ingredients"].append(
            {"key": key(name), "name": key(name), "category": "liquid oil"}
        )
    rows["materials/sources"].append({"key": "case", "reference": question.citation})
    for number, (name, price) in enumerate(question.prices.items()):
        pack = number % 3 + 1  # packs of 1, 2 and 3 kg, so that a price is worked out
        rows["workshops/case/prices"].append(
            {
                "ingredient": key(name),
                "pack": pack,
                "unit": "kg",
                "price": repr(float(price * pack)),
                "currency": "USD",
            }
        )
    rows["materials/properties"] = _facts("property", "1", question.figures)
    rows["materials/constituents"] = _facts("constituent", "%", question.contents)
    for name, header in HEADERS.items():
        path = folder / "catalogues" / f"{name}.csv"
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, header.split(","), lineterminator="\n")
            writer.writeheader()
            writer.writerows(rows[name])
    path = folder / "case.toml"
    text = SCENARIO.format(title=question.title)
    path.write_text("\n".join([text, *question.rules]), encoding="utf-8")
    return read_scenario(path)


def _facts(kind, unit, table):
    return [
        {
            "ingredient": key(name),
            kind: fold(what),
            "value": repr(float(value)),
            "unit": unit,
            "evidence": "retrieved",
            "source": "case",
        }
        for what, values in table.items()
        for name, value in values.items()
    ]


def amounts_of(answer, question):
    """Amounts of an answer in the case's unit, by key; what is not used is 0."""
    amounts = {key(name): 0.0 for name in question.prices}
    for line in answer.formula:
        amounts[line.ingredient] = line.percent * question.total / 100.0
    return amounts


def line_of(answer, rule_id):
    """The line of a rule by its id."""
    (line,) = [line for line in answer.rules if line.rule.id == rule_id]
    return line


def _sides(low, high):
    return [
        f"{side} = {float(value)!r}"
        for side, value in (("min", low), ("max", high))
        if value is not None
    ]


def window(name, low, high, over="product"):
    """The TOML of a window."""
    lines = ["[[windows]]", f'property = "{fold(name)}"', f'over = "{over}"']
    return "\n".join([*lines, *_sides(low, high)])


def bounds(table, **sides):
    """The TOML of a table of bounds, each a pair of a low and a high side."""
    lines = [f"[{table}]"]
    for name, (low, high) in sides.items():
        lines.append(f'"{fold(name)}" = {{ {", ".join(_sides(low, high))} }}')
    return "\n".join(lines)


def parts(**members):
    """The TOML of named parts."""
    lines = ["[parts]"]
    for name, names in members.items():
        listed = ", ".join(f'"{key(each)}"' for each in names)
        lines.append(f'"{name}" = [{listed}]')
    return "\n".join(lines)


__all__ = [
    "Question",
    "amounts_of",
    "bounds",
    "key",
    "line_of",
    "parts",
    "read_question",
    "window",
]
