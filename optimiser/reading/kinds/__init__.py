"""What scenarios ask for by kinds of rule of their own: one module a kind.

A module here reads one key of a scenario; the module of the same name in `rules.kinds`
makes rules of what it found. Both are found by being there.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from importlib import import_module
from pkgutil import iter_modules
from types import GenericAlias
from typing import Any, Protocol, cast, get_origin

from msgspec import defstruct

from optimiser.domain.material import Subject
from optimiser.reading.asking import Asking
from optimiser.reading.scenario_files import ScenarioFile

__all__ = ["FILE", "file_with", "modules_in", "others_of"]


class Reader(Protocol):
    """What a module here holds.

    ``KEY`` is the key of the file and ``SHAPE`` what stands there: ``list[Model]`` for
    a list of tables, ``dict[str, Model]`` for tables that the maker names, or a shape.
    """

    KEY: str
    SHAPE: type | GenericAlias

    def read(self, asking: Asking) -> Iterable[Subject]:
        """Return what is asked for; what is wrong with it is said to ``asking``."""


def modules_in(path: Sequence[str], package: str) -> list[Any]:
    """Return the modules of a package in the order of their names."""
    names = sorted(each.name for each in iter_modules(path))
    return [import_module(f"{package}.{name}") for name in names]


READERS = [cast("Reader", each) for each in modules_in(__path__, __name__)]


def _field(key: str, shape: Any) -> tuple[str, Any, Any]:  # noqa: ANN401 - a shape, or some of them
    """Return a key with its type and its default: it may always be left out."""
    held = get_origin(shape)
    if held is not None:
        return key, shape, held()
    return key, shape | None, None


def file_with(shapes: Mapping[str, Any]) -> type[ScenarioFile]:
    """Return the shape of a scenario file with more keys, by what stands there."""
    fields = [_field(key, shape) for key, shape in shapes.items()]
    made = defstruct("WholeFile", fields, bases=(ScenarioFile,), frozen=True)
    return cast("type[ScenarioFile]", made)


FILE = file_with({each.KEY: each.SHAPE for each in READERS})


def others_of(asking: Asking) -> tuple[Subject, ...]:
    """Return what every kind here was asked for."""
    return tuple(found for each in READERS for found in each.read(asking))
