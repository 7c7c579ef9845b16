"""Values of the kinds of rule that have modules of their own, and how those are found.

A module here holds what a scenario asks for of one kind; those of the same name in
`reading.kinds` and `rules.kinds` read it and make rules of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from importlib import import_module
from pathlib import Path
from typing import Any

__all__ = ["modules_in"]


def modules_in(path: Sequence[str], package: str) -> list[Any]:
    """Return the modules of a package in the order of their names."""
    names = {each.stem for folder in path for each in Path(folder).glob("[a-z]*.py")}
    return [import_module(f"{package}.{name}") for name in sorted(names)]
