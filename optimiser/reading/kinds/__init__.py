"""What scenarios ask for by kinds of rule of their own: one module a kind.

A module here reads one key of a scenario; the module of the same name in `rules.kinds`
makes rules of what it found. Both are found by being there.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import GenericAlias
from typing import Any, Protocol, cast, get_origin

from pydantic import create_model

from optimiser.domain.kinds import modules_in
from optimiser.domain.material import Subject
from optimiser.reading.asking import Asking
from optimiser.reading.scenario_files import ScenarioFile

__all__ = ["FILE", "file_with", "others_of"]


class Reader(Protocol):
    """What a module here holds.

    ``KEY`` is the key of the file and ``SHAPE`` what stands there: ``list[Model]`` for
    a list of tables, ``dict[str, Model]`` for tables that the maker names, or a model.
    """

    KEY: str
    SHAPE: type | GenericAlias

    def read(self, asking: Asking) -> Iterable[Subject]:
        """Return what is asked for; what is wrong with it is said to ``asking``."""


READERS = [cast("Reader", each) for each in modules_in(__path__, __name__)]


def _field(shape: Any) -> tuple[Any, Any]:  # noqa: ANN401 - a model, or some of them
    """Return the type and the default of a key, which may always be left out."""
    held = get_origin(shape)
    if held is not None:
        return shape, held()
    return shape | None, None


def file_with(shapes: Mapping[str, Any]) -> type[ScenarioFile]:
    """Return the shape of a scenario file with more keys, by what stands there."""
    fields: dict[str, Any] = {key: _field(shape) for key, shape in shapes.items()}
    return create_model("WholeFile", __base__=ScenarioFile, **fields)


FILE = file_with({each.KEY: each.SHAPE for each in READERS})


def others_of(asking: Asking) -> tuple[Subject, ...]:
    """Return what every kind here was asked for."""
    return tuple(found for each in READERS for found in each.read(asking))
