"""Pages as a terminal shows them: what tests read."""

from optimiser.presenting import as_text, report
from optimiser.presenting.page import Page, Section

__all__ = ["flat", "report", "told"]


def told(blocks, columns=500):
    """Some blocks by themselves."""
    found = tuple(blocks)
    return as_text(Page("", (), (Section("", found),) if found else ()), columns)


def flat(text):
    """A text on one line."""
    return " ".join(text.split())
