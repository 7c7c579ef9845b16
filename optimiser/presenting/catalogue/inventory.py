"""How much catalogues hold: rows by file, and what they come to."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from optimiser.domain.material import PARTS, Ingredient
from optimiser.presenting.page import (
    Item,
    Page,
    Paragraph,
    Section,
    Table,
    items,
    numbers,
    section,
    words,
)
from optimiser.presenting.words import decimals, listed, plural
from optimiser.reading.sheets import is_workbook, read_sheet

if TYPE_CHECKING:
    from optimiser.domain.catalogue import Catalogue

__all__ = ["gap_items", "gaps", "inventory_data", "inventory_page"]


def rows_by_file(folder: Path) -> dict[str, int]:
    """Return the rows below the header of each table, by its place in the folder."""
    return {
        path.relative_to(folder).as_posix(): _rows(path)
        for path in sorted([*folder.rglob("*.csv"), *folder.rglob("*.xlsx")])
        if path.is_file()
    }


def _rows(path: Path) -> int:
    """Return the rows of a table; of one that cannot be read, those before that."""
    filled = 0
    if is_workbook(path):
        sheet = read_sheet(path, path.name, [])
        filled = sum(any(cells) for _, cells in sheet.rows) if sheet else 0
        return max(0, filled - 1)
    with (
        suppress(OSError, csv.Error),
        path.open(encoding="utf-8-sig", errors="replace", newline="") as file,
    ):
        for row in csv.reader(file):
            filled += any(cell.strip() for cell in row)
    return max(0, filled - 1)


def _counts(catalogue: Catalogue) -> dict[str, int]:
    figures = (at for rows in catalogue.figures.values() for at in rows.values())
    return {
        "ingredients": len(catalogue.ingredients),
        "figures": sum(map(len, figures)),
        "contents": sum(map(len, catalogue.contents.values())),
        "usage_limits": len(catalogue.limits),
        "allergen_statuses": sum(map(len, catalogue.allergens.values())),
        "limits_by_law": len(catalogue.substance_limits),
        "scent_allergen_names": len(catalogue.scent_allergens),
        "sources": len(catalogue.sources),
    }


def inventory_data(
    folder: Path, catalogues: Mapping[str | None, Catalogue]
) -> dict[str, Any]:
    """Return the counts as data; ``catalogues`` by the workshop they were read with."""
    return {
        "status": "answered",
        "files": rows_by_file(folder),
        "counts": _counts(next(iter(catalogues.values()))),
        "workshops": {
            name: {
                "prices": sum(map(len, each.prices.values())),
                "lots": len(each.stock),
            }
            for name, each in catalogues.items()
            if name is not None
        },
        "not_known": gaps(catalogues),
        "problems": [],
    }


def inventory_page(
    folder: Path, catalogues: Mapping[str | None, Catalogue], *, full: bool = False
) -> Page:
    """Return the counts as a page.

    Parameters
    ----------
    folder : Path
        The folder of catalogues.
    catalogues : mapping of workshop to Catalogue
        What was read, with each workshop.
    full : bool
        With the rows of every file.
    """
    data = inventory_data(folder, catalogues)
    files = data["files"]
    counts = [
        f"{count} {key.replace('_', ' ')}" for key, count in data["counts"].items()
    ]
    held = [Item(f"{plural(len(files), 'file')}, {', '.join(counts)}.")]
    for name, of in data["workshops"].items():
        told = f"{plural(of['prices'], 'price')}, {plural(of['lots'], 'lot')}"
        held.append(Item(f"workshop {listed([name])}: {told}."))
    verdict = Paragraph("No problem found.")
    sections = [Section("", (verdict, *held))]
    sections += section("Not known", gap_items(data["not_known"]))
    if full:
        table = Table(
            (
                words("file", list(files), 20),
                numbers("rows", files.values(), lambda rows: decimals(rows, 0)),
            )
        )
        sections += section("Files", [table])
    else:
        sections += section("", [Paragraph("With --full: the rows of every file.")])
    return Page("Catalogues", (str(folder),), tuple(sections))


MOST = 8
_NOUNS = {
    "fats_without_solid_fat": ("fat without solid fat", "fats without solid fat"),
    "waxes_without_firmness": ("wax without firmness", "waxes without firmness"),
    "without_kind": ("ingredient without a kind", "ingredients without a kind"),
    "without_density": ("ingredient without density", "ingredients without density"),
    "without_allergen_row": (
        "ingredient without any allergen row",
        "ingredients without any allergen row",
    ),
}


def gaps(catalogues: Mapping[str | None, Catalogue]) -> dict[str, Any]:
    """Return the names of ingredients that lack something, by what they lack.

    Parameters
    ----------
    catalogues : mapping of workshop to Catalogue
        What was read, with each workshop; facts are taken from the first, prices
        from each.
    """
    first = next(iter(catalogues.values()))
    every = first.ingredients.values()
    told = {key for rows in first.allergens.values() for key in rows}

    def lacking(figure: str, categories: Iterable[str] = ()) -> list[str]:
        known = first.figures.get(figure, {})
        asked = (e for e in every if not categories or e.category in categories)
        return _names(each for each in asked if each.key not in known)

    return {
        "fats_without_solid_fat": lacking("solid fat", PARTS["fats"]),
        "waxes_without_firmness": lacking("wax firmness", ("wax",)),
        "without_kind": _names(each for each in every if each.kind is None),
        "without_density": lacking("density"),
        "without_allergen_row": _names(e for e in every if e.key not in told),
        "without_price": {
            workshop: _names(
                each
                for each in catalogue.ingredients.values()
                if catalogue.price_per_kg(each.key) is None
            )
            for workshop, catalogue in catalogues.items()
            if workshop is not None
        },
    }


def _names(ingredients: Iterable[Ingredient]) -> list[str]:
    return [each.name for each in ingredients]


def gap_items(found: Mapping[str, Any]) -> tuple[Item, ...]:
    """Return what is not known: how many, and the first names."""
    return items(list(_told(found)))


def _told(found: Mapping[str, Any]) -> Iterator[str]:
    for kind, (one, many) in _NOUNS.items():
        if found[kind]:
            yield f"{plural(len(found[kind]), one, many)}: {listed(found[kind], MOST)}"
    for workshop, names in found["without_price"].items():
        if names:
            count = plural(len(names), "ingredient")
            where = f"without a price in workshop '{workshop}'"
            yield f"{count} {where}: {listed(names, MOST)}"
