"""What a script prints of a result: its page as text."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from optimiser.explaining.answer import Checked, Clash
from optimiser.presenting.answer import answer_page
from optimiser.presenting.check import check_page
from optimiser.presenting.clash import clash_page
from optimiser.presenting.terminal import as_text

if TYPE_CHECKING:
    from optimiser.domain.catalogue import Source
    from optimiser.explaining.answer import Answer

__all__ = ["report"]


def report(
    found: Answer | Checked | Clash,
    columns: int | None = None,
    sources: Mapping[str, Source] | None = None,
    *,
    full: bool = True,
) -> str:
    """Return the page on a result as text.

    Parameters
    ----------
    columns : int, optional
        How wide it may be; the terminal's width when left out.
    sources : mapping of key to Source, optional
        Where rules were read (``Catalogue.sources``); with it editions are told.
    full : bool
        Everything, or what fits on a screen.
    """
    if isinstance(found, Clash):
        page = clash_page(found)
    elif isinstance(found, Checked):
        page = check_page(found, sources, full=full)
    else:
        page = answer_page(found, sources, full=full)
    return as_text(page, columns)
