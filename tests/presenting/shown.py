"""Pages as a terminal shows them: what tests read."""

from optimiser.presenting import answer_page, as_text, check_page, clash_page
from optimiser.presenting.page import Page, Section


def report(answer, columns=None, sources=None):
    """Everything there is to say of an answer."""
    return as_text(answer_page(answer, sources, full=True), columns)


def check_report(checked, columns=None, sources=None):
    """Everything there is to say of a checked formula."""
    return as_text(check_page(checked, sources, full=True), columns)


def clash_report(clash, columns=None):
    """The page on a clash."""
    return as_text(clash_page(clash), columns)


def told(blocks, columns=500):
    """Some blocks by themselves."""
    found = tuple(blocks)
    return as_text(Page("", (), (Section("", found),) if found else ()), columns)


def flat(text):
    """A text on one line."""
    return " ".join(text.split())
