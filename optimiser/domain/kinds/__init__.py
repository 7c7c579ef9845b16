"""Values of the kinds of rule that have modules of their own, and how those are found.

A module here holds what a scenario asks for of one kind; those of the same name in
`reading.kinds` and `rules.kinds` read it and make rules of it.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from importlib import import_module
from typing import Any

__all__ = ["modules_in"]


def modules_in(path: Sequence[str], package: str) -> list[Any]:
    """Return the modules of a package in the order of their names."""
    files = [each for folder in path for each in os.listdir(folder)]  # noqa: PTH208
    names = {each[:-3] for each in files if each.endswith(".py") and each[0] != "_"}
    return [import_module(f"{package}.{name}") for name in sorted(names)]
