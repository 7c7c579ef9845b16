"""Whether a workshop's pages tell °F beside °C: the table [temperature]."""

from __future__ import annotations

from optimiser.errors import Problem
from optimiser.reading import disk
from optimiser.reading.folders import Folder
from optimiser.reading.shapes import shown_value
from optimiser.reading.toml_text import read_toml

__all__ = ["read_fahrenheit"]

FIX = "write [temperature] and, below it, fahrenheit = true"


def read_fahrenheit(folder: Folder) -> bool:
    """Return what scale.toml of a workshop says of °F; False where it says nothing."""
    path = folder.folder / "scale.toml"
    shown = f"{folder.shown}/scale.toml"
    content = read_toml(path, shown, []) if disk.exists(path) else None
    table = (content or {}).get("temperature", {})
    if not isinstance(table, dict):
        wrong, field, found = "is no table", "temperature", shown_value(table)
    elif (told := table.get("fahrenheit", False)) not in {True, False} or (
        not isinstance(told, bool)
    ):
        wrong, field = "is neither true nor false", "temperature.fahrenheit"
        found = shown_value(told)
    else:
        return told
    folder.problems.append(Problem(wrong, shown, None, field, found, FIX))
    return False
