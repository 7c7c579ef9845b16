"""The table [scale] of a workshop's scale.toml."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from optimiser.domain.scale import Scale
from optimiser.errors import InputError, Problem
from optimiser.reading.quantities import QuantityError, read_quantity
from optimiser.reading.scenario import workshop_folder
from optimiser.reading.shapes import shown_value
from optimiser.reading.shipped import shipped_folder
from optimiser.reading.toml_text import read_toml

__all__ = ["read_scale"]

EXAMPLES = {"readability": "0.1 g", "smallest": "5 g"}


def read_scale(scenario: Path, workshop: str) -> Scale:
    """Return the scale of a scenario's workshop; nothing is known without its table.

    Parameters
    ----------
    scenario : Path
        The scenario's file; its workshop is found as its catalogue is.

    Raises
    ------
    InputError
        With every entry of the table that is no mass above zero.
    """
    folder = workshop_folder(scenario, workshop)
    if folder is None:
        folder = shipped_folder("catalogues") / "workshops" / workshop
    path, shown = folder / "scale.toml", f"{folder.name}/scale.toml"
    if not path.is_file():
        return Scale(None, None)
    problems: list[Problem] = []
    content = read_toml(path, shown, problems) or {}
    table = content.get("scale", {})
    if not isinstance(table, dict):
        fix = 'write [scale] and, below it, readability = "0.1 g"'
        problems.append(Problem("is no table", shown, field="scale", fix=fix))
        table = {}
    found = {key: _mass(table.get(key), key, shown, problems) for key in EXAMPLES}
    if problems:
        raise InputError(problems)
    return Scale(found["readability"], found["smallest"])


def _mass(value: Any, key: str, shown: str, problems: list[Problem]) -> float | None:  # noqa: ANN401 - as read
    if value is None:
        return None
    example = f'write it like {key} = "{EXAMPLES[key]}"'
    wrong, fix = "is not a mass in quotes", example
    if isinstance(value, str):
        try:
            kg = read_quantity(value, "kg", EXAMPLES[key])
        except QuantityError as error:
            wrong, fix = str(error), error.fix
        else:
            if kg > 0:
                return kg
            wrong = "is not above zero"
    problems.append(
        Problem(wrong, shown, None, f"scale.{key}", shown_value(value), fix)
    )
    return None
