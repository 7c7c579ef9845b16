"""Overlays: themes and grid cases, laid over a scenario without a file of their own.

An overlay is written as a scenario is, but only says what is different; its title is
the name of the theme. It extends nothing: what it is laid over is chosen at the time.
"""

from __future__ import annotations

import copy
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from msgspec import Struct

from optimiser.errors import InputError, Problem
from optimiser.reading.layers import Layer, checked
from optimiser.reading.text import is_folder
from optimiser.reading.toml_text import read_toml

__all__ = ["Overlay", "overlay_layers", "read_overlays"]


class Overlay(Struct, frozen=True):
    """Keys to lay over a scenario; ``shown`` is their file in messages."""

    name: str
    shown: str
    path: Path
    content: Mapping[str, Any]


def read_overlays(paths: Iterable[Path]) -> list[Overlay]:
    """Return the themes of files, and of all TOML files of folders, in order.

    Raises
    ------
    InputError
        With every file that cannot be read, is empty or extends another.
    """
    problems: list[Problem] = []
    found: list[Overlay] = []
    for path in _files(paths, problems):
        content = read_toml(path, str(path), problems)
        if content is None:
            continue
        if "extends" in content:
            fix = "leave extends out, or give the file as a scenario"
            wrong = "is a scenario of its own, for it extends another"
            problems.append(Problem(wrong, str(path), field="extends", fix=fix))
            continue
        title = content.pop("title", None)
        name = title if isinstance(title, str) and title.strip() else path.stem
        found.append(Overlay(name.strip(), str(path), path, content))
    if problems:
        raise InputError(problems)
    return found


def _files(paths: Iterable[Path], problems: list[Problem]) -> list[Path]:
    files: list[Path] = []
    for path in paths:
        if not is_folder(path):
            files.append(path)
            continue
        inside = sorted(path.glob("*.toml"))
        if not inside:
            fix = "put themes there as .toml files, or name another folder"
            problems.append(Problem("is a folder without a theme", str(path), fix=fix))
        files += inside
    return list(dict.fromkeys(files))


def overlay_layers(overlays: Iterable[Overlay], problems: list[Problem]) -> list[Layer]:
    """Return overlays as layers, each checked as a scenario file is."""
    return [
        checked(
            Layer(each.path, each.shown, copy.deepcopy(dict(each.content))), problems
        )
        for each in overlays
    ]
