"""What can go wrong, said so that a maker can put it right.

::

    OptimiserError
    ├── InputError           one or more problems in what somebody wrote
    └── ProofError           an optimum failed its own check: a bug, not an answer
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache

from msgspec import Struct

__all__ = [
    "InputError",
    "OptimiserError",
    "Option",
    "Phrase",
    "Problem",
    "ProofError",
    "alike",
    "extra",
    "nearest",
    "phrase",
    "told",
]


class OptimiserError(Exception):
    """Anything this program says is wrong."""


class Option(Struct, frozen=True):
    """An option that a message names, and what it may be; on a page a field.

    >>> str(Option("units", "24"))
    '--units 24'
    """

    name: str
    value: str = ""

    @property
    def as_field(self) -> str:
        """How a page names it, where the field that stands for it is called so."""
        return f"{self.name} {self.value}".rstrip()

    def __str__(self) -> str:
        return f"--{self.as_field}"


class Phrase(Struct, frozen=True):
    """Words that name options, kept as values: a page has fields in their place.

    >>> count = Phrase(("write how many, as in ", Option("units", "24")))
    >>> str(count), count.on_a_page
    ('write how many, as in --units 24', 'write how many, as in units 24')
    """

    pieces: tuple[str | Option, ...]

    @property
    def on_a_page(self) -> str:
        """The words as a page has them."""
        return "".join(x if isinstance(x, str) else x.as_field for x in self.pieces)

    def __str__(self) -> str:
        return "".join(map(str, self.pieces))


def phrase(*pieces: str | Option | Phrase) -> Phrase:
    """Return words that name options.

    >>> str(phrase("leave ", Option("made"), " out"))
    'leave --made out'
    """
    each: list[str | Option] = []
    for piece in pieces:
        each += piece.pieces if isinstance(piece, Phrase) else [piece]
    return Phrase(tuple(each))


class Problem(Struct, frozen=True):
    """One thing wrong in something a person wrote.

    Parameters
    ----------
    wrong : str or Phrase
        What is wrong, as a sentence without a full stop. Where it or ``fix`` names an
        option it is a `Phrase`, of which a whole command is a plain piece.
    file : str, optional
        File as the reader was given it.
    row : int, optional
        Row as a spreadsheet shows it (the header is row 1).
    field : str, optional
        Column of a CSV, key of a TOML file, or an option with its dashes.
    found : str, optional
        The text that was found there.
    fix : str or Phrase, optional
        What would put it right.
    cell : str, optional
        The cell of a spreadsheet, as in C7, where it was one.
    within : str, optional
        What of the file it is in, as in "recipe A".
    """

    wrong: str | Phrase
    file: str | None = None
    row: int | None = None
    field: str | None = None
    found: str | None = None
    fix: str | Phrase | None = None
    cell: str | None = None
    within: str | None = None

    def __str__(self) -> str:
        place = [] if self.file is None else [self.file]
        if self.cell is not None:
            place.append(f"cell {self.cell}")
        elif self.row is not None:
            place.append(f"row {self.row}")
        if self.field is not None:
            what = "column" if self.row is not None else "key"
            what = "option" if self.field.startswith("-") else what
            place.append(f"{what} {self.field}")
        found = "" if self.found is None else f"'{self.found}' "
        text = f"{', '.join(place)}: " if place else ""
        within = "" if self.within is None else f"in {self.within}: "
        text += f"{found}{within}{self.wrong}."
        return text if self.fix is None else f"{text}\n  To fix: {self.fix}."


class InputError(OptimiserError):
    """Everything wrong in the input, in one go.

    Parameters
    ----------
    problems : iterable of Problem
        At least one; shown in the order given, repeats once.
    """

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems: Sequence[Problem] = tuple(dict.fromkeys(problems))
        super().__init__("\n".join(str(problem) for problem in self.problems))


class ProofError(OptimiserError):
    """An optimum did not pass its own check."""


def alike(
    name: str, known: Iterable[str], most: int = 3, least: float = 60.0
) -> list[str]:
    """Return the known names most like ``name``, the most alike first.

    Likeness is twice the signs in common, in order, over all signs, in percent.

    >>> alike("coco butter", ["cocoa butter", "shea butter", "beeswax"], most=1)
    ['cocoa butter']
    """
    from rapidfuzz import fuzz, process  # noqa: PLC0415  # only where a name is wrong

    folded = _folded(tuple(known))
    close = process.extract(
        name.casefold(),
        folded.keys(),
        scorer=fuzz.ratio,
        limit=most,
        score_cutoff=least,
    )
    return [folded[found] for found, _, _ in close]


def extra(name: str) -> str:
    """Return how an extra of the program is installed: from its folder, as it was.

    >>> extra("web")
    "pip install '.[web]' in the folder that the program was installed from"
    """
    return f"pip install '.[{name}]' in the folder that the program was installed from"


@lru_cache(maxsize=16)
def _folded(known: tuple[str, ...]) -> dict[str, str]:
    """Return folded name -> the first name as it is shown."""
    return {each.casefold(): each for each in reversed(known)}


def nearest(name: str, known: Iterable[str], most: int = 3) -> str:
    """Return the known names most like ``name``, as words for a message.

    >>> nearest("coco butter", ["cocoa butter", "shea butter", "beeswax"], most=1)
    'the nearest known name is cocoa butter'
    >>> nearest("xyz", ["cocoa butter"])
    'no known name is near it'
    """
    return told(alike(name, known, most))


def told(names: Sequence[str]) -> str:
    """Return the nearest names as words for a message."""
    if not names:
        return "no known name is near it"
    if len(names) == 1:
        return f"the nearest known name is {names[0]}"
    return "the nearest known names are " + ", ".join(names)
