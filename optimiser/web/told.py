"""Words of commands as a page says them: options are fields there, or nothing."""

from __future__ import annotations

import re

from msgspec.structs import replace

from optimiser.errors import Problem, ProofError
from optimiser.presenting.page import Block, Item, Page, Paragraph, Section

__all__ = ["as_fields", "plainly", "unproved", "without_options"]

OPTION = re.compile(r"--[a-z]|`optimiser ")
BESIDE = re.compile(r" \(--[a-z-]+\)")


def plainly(problem: Problem) -> str:
    """Return a problem as a page tells it: options are fields there.

    >>> plainly(Problem("is a day to come", field="--made", fix="leave --made out"))
    'made: is a day to come. To fix: leave made out.'
    """
    field = problem.field
    if field is not None and problem.row is None and problem.file is None:
        found = "" if problem.found is None else f"'{problem.found}' "
        told = f"{field}: {found}{problem.wrong}."
        told += "" if problem.fix is None else f" To fix: {problem.fix}."
    else:
        told = " ".join(str(problem).split())
    return as_fields(told)


def as_fields(text: str) -> str:
    """Return a text in which options are named as the fields that stand for them.

    >>> as_fields("name it with --product")
    'name it with product'
    """
    return text.replace("--", "")


def unproved(error: ProofError) -> Problem:
    """Return an answer that is not shown as a problem."""
    wrong = f"the answer did not pass its own check, so it is not shown ({error})"
    return Problem(wrong)


def without_options(page: Page) -> Page:
    """Return a page without sentences that name a command or its options."""
    sections = []
    for each in page.sections:
        blocks = tuple(b for b in map(_plain, each.blocks) if b is not None)
        if blocks:
            sections.append(Section(each.title, blocks))
    return replace(page, sections=tuple(sections))


def _plain(block: Block) -> Block | None:
    if isinstance(block, Paragraph):
        text = _sentences(block.text)
        return Paragraph(text) if text else None
    if isinstance(block, Item):
        text = _sentences(block.text)
        under = (_sentences(each) for each in block.under)
        return Item(text, tuple(each for each in under if each)) if text else None
    return block


def _sentences(text: str) -> str:
    """Return the sentences that name no option.

    >>> _sentences("batch code (--lot). Give it with --density.")
    'batch code.'
    """
    parts = re.split(r"(?<=[.;]) ", BESIDE.sub("", text))
    kept = " ".join(each for each in parts if not OPTION.search(each))
    return f"{kept[:-1]}." if kept.endswith(";") else kept
