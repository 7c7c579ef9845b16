"""How much catalogues hold: rows by file, and what they come to."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from optimiser.presenting.catalogue.gaps import gap_items, gaps
from optimiser.presenting.page import (
    Item,
    Page,
    Paragraph,
    Section,
    Table,
    numbers,
    section,
    words,
)
from optimiser.presenting.words import decimals, listed, plural

if TYPE_CHECKING:
    from optimiser.domain.catalogue import Catalogue

__all__ = ["inventory_data", "inventory_page"]


def rows_by_file(folder: Path) -> dict[str, int]:
    """Return the rows below the header of each table, by its place in the folder."""
    return {
        path.relative_to(folder).as_posix(): _rows(path)
        for path in sorted(folder.rglob("*.csv"))
    }


def _rows(path: Path) -> int:
    with path.open(encoding="utf-8-sig", errors="replace", newline="") as file:
        filled = sum(any(cell.strip() for cell in row) for row in csv.reader(file))
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
