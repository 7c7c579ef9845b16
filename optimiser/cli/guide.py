"""The guide that a new workspace begins with.

Its examples are run by a test: a block after a line that names a file is that file.
"""

from __future__ import annotations

from pathlib import Path

__all__ = ["guide"]


def guide() -> str:
    """Return GUIDE.md; the columns of tables are told as they are read."""
    from optimiser.reading import figures, folders, grids, markets, materials, workshops  # noqa: PLC0415  # noqa: PLC0415
    from optimiser.reading.recipes import knowledge  # noqa: PLC0415

    tables = {
        "ingredients.csv": materials.INGREDIENTS,
        "properties.csv": figures.COLUMNS,
        "constituents.csv": figures.CONSTITUENTS,
        "limits.csv": materials.LIMITS,
        "allergens.csv": materials.ALLERGENS,
        "sources.csv": folders.SOURCES,
        "prices.csv": workshops.PRICES,
        "stock.csv": workshops.STOCK,
        "recipe_names.csv": knowledge.TAUGHT,
        "price_list": grids.PRICES,
    }
    file = Path(__file__).with_name("guide.md")
    text = file.read_text(encoding="utf-8").replace(
        "MARKETS", ", ".join(markets.MARKETS)
    )
    for name, columns in tables.items():
        text = text.replace(f"COLUMNS({name})", columns.header.replace(",", ", "))
    return text
