"""A scenario or a catalogue read for a run, whose pages are shown as it asks."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from optimiser.reading.kept import kept_scenario as kept

if TYPE_CHECKING:
    from optimiser.domain.catalogue import Catalogue
    from optimiser.domain.scenario import Scenario
    from optimiser.errors import Problem

__all__ = ["kept_scenario", "shown_as_asked"]


def kept_scenario(
    path: Path, *, calibrated: bool = True, shelf: list[Problem] | None = None
) -> tuple[Scenario, Catalogue]:
    """Return a scenario and its catalogue; pages are shown as its workshop asks."""
    asked, catalogue = kept(path, calibrated=calibrated, shelf=shelf)
    shown_as_asked(catalogue)
    return asked, catalogue


def shown_as_asked(catalogue: Catalogue) -> None:
    """Show °F on the pages of this run, where a workshop asks for it."""
    from optimiser.presenting.degrees import fahrenheit  # noqa: PLC0415

    fahrenheit.set(catalogue.fahrenheit)
