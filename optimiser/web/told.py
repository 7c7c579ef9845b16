"""Problems as a page tells them: what is an option elsewhere is a field there."""

from __future__ import annotations

import re

from optimiser.errors import Problem, ProofError
from optimiser.presenting.words import clean

__all__ = ["as_fields", "plainly", "unproved"]

OPTION = re.compile(r"(?<![^\s(])--(?=[a-z])")


def plainly(problem: Problem) -> str:
    r"""Return a problem as a page tells it: options are fields there.

    Signs that are not seen, or turn the order of reading, are left out as anywhere.

    >>> plainly(Problem("is a day to come", field="--made", fix="leave --made out"))
    'made: is a day to come. To fix: leave made out.'
    >>> plainly(Problem("is no count", field="units", found="4\u202e2"))
    "units: '42' is no count."
    """
    field = problem.field
    if field is not None and problem.row is None and problem.file is None:
        found = "" if problem.found is None else f"'{problem.found}' "
        told = f"{field}: {found}{problem.wrong}."
        told += "" if problem.fix is None else f" To fix: {problem.fix}."
    else:
        told = str(problem)
    return as_fields(clean(told))


def as_fields(text: str) -> str:
    """Return a text in which options are named as the fields that stand for them.

    Names of files and what was found in them stay as they are.

    >>> as_fields("name it with --product")
    'name it with product'
    >>> as_fields("my--bar.csv: '--' is no number")
    "my--bar.csv: '--' is no number"
    """
    return OPTION.sub("", text)


def unproved(error: ProofError) -> Problem:
    """Return an answer that is not shown as a problem."""
    wrong = f"the answer did not pass its own check, so it is not shown ({error})"
    return Problem(wrong)
