"""Problems as a page tells them: what is an option elsewhere is a field there."""

from __future__ import annotations

from msgspec.structs import replace

from optimiser.errors import Phrase, Problem, ProofError
from optimiser.presenting.words import clean

__all__ = ["on_a_page", "plainly", "unproved"]


def plainly(problem: Problem) -> str:
    r"""Return a problem as a page tells it: options are fields there.

    Signs that are not seen, or turn the order of reading, are left out as anywhere.

    >>> from optimiser.errors import Option, phrase
    >>> fix = phrase("leave ", Option("made"), " out")
    >>> plainly(Problem("is a day to come", field="--made", fix=fix))
    'made: is a day to come. To fix: leave made out.'
    >>> plainly(Problem("is no count", field="units", found="4\u202e2"))
    "units: '42' is no count."
    """
    wrong = on_a_page(problem.wrong)
    fix = None if problem.fix is None else on_a_page(problem.fix)
    field = problem.field
    if field is not None and problem.row is None and problem.file is None:
        found = "" if problem.found is None else f"'{problem.found}' "
        told = f"{field.removeprefix('--')}: {found}{wrong}."
        told += "" if fix is None else f" To fix: {fix}."
    else:
        told = str(replace(problem, wrong=wrong, fix=fix))
    return clean(told)


def on_a_page(words: str | Phrase) -> str:
    """Return words in which options are the fields that stand for them.

    >>> on_a_page("my--bar.csv: '--' is no number")
    "my--bar.csv: '--' is no number"
    """
    return words if isinstance(words, str) else words.on_a_page


def unproved(error: ProofError) -> Problem:
    """Return an answer that is not shown as a problem."""
    wrong = f"the answer did not pass its own check, so it is not shown ({error})"
    return Problem(wrong)
