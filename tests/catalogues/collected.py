"""Rows of the materials as they were collected and checked, table by table.

``collected.csv`` names them by their source and its ingredients, so that what is added
under another source, or about another ingredient, is counted by no test of these.
"""

import csv
import math
import pathlib
from collections import Counter

import pytest

MATERIALS = pathlib.Path(__file__).resolve().parents[2] / "catalogues" / "materials"


def read(path):
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


PINS = read(pathlib.Path(__file__).with_name("collected.csv"))


def total(table, column):
    return math.fsum(float(row[column]) for row in table if row[column])


def collected(name, table, prop="", source=None):
    """Return the rows of a table, of one property or source, that were collected.

    Fails, and says what to do, where a source has more or fewer of them than it had.
    """
    pins = [
        pin
        for pin in PINS
        if (pin["table"], pin["property"]) == (name, prop)
        and source in {None, pin["source"]}
    ]
    about = {
        (pin["source"], each) for pin in pins for each in pin["ingredients"].split(" ")
    }
    found = [
        row for row in table if (row["source"], row.get("ingredient", "")) in about
    ]
    counted = Counter(row["source"] for row in found)
    off = [
        f"{pin['source']} has {counted[pin['source']]} in place of {pin['rows']}"
        for pin in pins
        if counted[pin["source"]] != int(pin["rows"])
    ]
    if off:
        pytest.fail(
            f"rows of {prop or 'ingredients'} in {name}: {'; '.join(off)}. {FIX}"
        )
    return found


FIX = (
    "What was collected stays: put it back. A new row about one of these ingredients"
    " takes a source key of its own (about another ingredient, any). Where a page was"
    " read again, tests/catalogues/collected.csv and the sums here change with it."
)


def adds_up(table, column, expected, within=1e-6):
    """Assert the sum of a column of collected rows."""
    found = total(table, column)
    told = f"the column {column} of what was collected adds up to {found}: a figure"
    assert found == pytest.approx(expected, rel=0, abs=within), f"{told} changed. {FIX}"
