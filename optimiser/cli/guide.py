"""The guide that a new workspace begins with."""

from __future__ import annotations

__all__ = ["GUIDE"]

GUIDE = """\
# Your workspace

`catalogues/materials` holds facts about ingredients, `catalogues/markets` law, and
`catalogues/workshops/NAME` what is yours: prices, stock, and any figure of your own
that replaces a shared one. All are CSV: a spreadsheet opens them; save them as CSV
again. `scenarios` holds what formulas are asked for.

Begin with:

    optimiser formulate scenarios/massage_bar.toml

The workshop `demo` and all its prices are invented.

## Change prices

Edit `catalogues/workshops/demo/prices.csv`, or copy the folder `demo` to a name of
your own and write `workshop = "NAME"` in your scenarios. One row a pack on offer:

    ingredient,pack,unit,price,freight,currency,date,note
    beeswax,1,kg,19.50,2,EUR,2026-11-02,

`price` is for the whole pack; the cheapest pack per kg counts, freight in it. What has
no price is left out, and the answer says so. `stock.csv` is what is on the shelf.

## Add an ingredient

1. A row in `catalogues/materials/ingredients.csv`: a key, a name, a category.
2. Its figures in `properties.csv` (solid fat, density, ...): one row a property,
   temperature and source. Blank is unknown; 0 is known to be zero.
3. Its allergen status in `allergens.csv`: without a row it counts as unknown, and is
   kept out where an allergen is excluded.
4. What it holds in `constituents.csv`, what suppliers and practice say in `limits.csv`.
5. A price in your workshop's `prices.csv`.

Each row names its source by a key of `sources.csv`. Then:

    optimiser catalogue check

It says what is wrong, and what is not known yet. See one ingredient with
`optimiser catalogue show beeswax`.

## Write a scenario

A scenario is a text file (TOML). One that builds on another needs only what differs:

    title   = "Winter bar"
    extends = "massage_bar.toml"

    [limits]
    "beeswax" = { max = 9, why = "softer for winter" }

| key | what it says |
|---|---|
| `title`, `workshop` | its name, and whose prices |
| `use`, `market` | `"leave-on"` or `"rinse-off"`; `["EU"]` |
| `[batch]` `size` | `"2 kg"` |
| `[aim]` `order` | `"cost"`, `"change"`, `"category change"`, `"count"`, `"bought"` |
| `[base]` | last year's formula, percent; it sums to 100 |
| `[only]` `ingredients` | choose from these and the base |
| `[exclude]` | `allergens`, `ingredients`, `categories`, `vegan`, `palm_free` |
| `[bands]` | percent of a category or part: `{ min = 30, max = 45 }` |
| `[limits]` | percent of an ingredient: `{ max = 4, why = "..." }` |
| `[pins]` | exactly so much: `"lavender oil" = 1.0` |
| `[[windows]]` | `property`, `at`, `over`, `min`, `max`: firmness, solid fat, ... |
| `[[ratios]]` | `first`, `second`, `min`, `max` |
| `[choices]` | how many may be used: `"hard butter" = { at_most = 3 }` |
| `[least_if_used]` | no less than so much of what is used: `default = 0.5` |
| `[closeness]` | points from the base: `by_ingredient = 20`, `by_category = 4` |
| `[stock]` `only` | use no more than is on the shelf: `true` |
| `cautious` | windows hold at the worse end of each figure: `true` |

When the rules clash, the answer says which, and how little would have to give.

A decision aid only: local law, your suppliers' documents for the lot and a qualified
assessor decide. Make 100 g and test.
"""
