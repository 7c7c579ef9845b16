"""Ingredients of one's own that are called what the law calls a substance.

Nothing is known of such an ingredient but its names. One that has the name of a
substance of the law counts as all of it; one whose name is near is told.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence

from msgspec import Struct

from optimiser.domain.catalogue import fold
from optimiser.domain.law import ScentAllergen, SubstanceLimit
from optimiser.domain.material import Figure, Ingredient

__all__ = ["Called", "called_as_the_law", "with_named"]

NEAR = 85.0  # a word nearer than this is taken for a slip of it, percent
SHORTEST = 5  # letters of a word that may be a slip of another
UNSURE = "?"  # ends a name in substances.csv that may be something else's too
OILS = {"oil", "oils", "eo", "essential", "ess"}
EITHER = re.compile(r"\boil(?:\s*/\s*|,? and )extracts?\b")  # one or the other
IDLE = {"of", "and", "or", "the", "pure", "natural", "organic", "100"}
Contents = Mapping[str, Mapping[str, Figure]]


class _Spelling(Struct, frozen=True):
    """A name as it is compared: ``words`` without those of oils, and whether it had."""

    words: tuple[str, ...]
    oil: bool

    @property
    def joined(self) -> str:
        return "".join(self.words)


class Called(Struct, frozen=True):
    """What is called as the law calls a substance, or nearly so, by ingredient."""

    surely: Mapping[str, tuple[str, ...]]
    perhaps: Mapping[str, tuple[str, ...]]


def called_as_the_law(
    ingredients: Iterable[Ingredient],
    limits: Iterable[SubstanceLimit],
    scents: Iterable[ScentAllergen],
    contents: Contents,
) -> Called:
    """Return which ingredients have a substance's name, and which a name near one.

    Only near the names of what some limit counts. What is known of a substance in an
    ingredient stands, and a name that is one substance's is near no other.
    """
    named = list(_limited(limits))
    limited = [(spelling, substance) for spelling, substance, _ in named]
    allergens = [
        (_spelt(name), substance)
        for each in scents
        for substance in each.substances
        for name in (substance, *([each.label_name] if _alone(each) else []))
    ]
    names = _Names(limited)
    known = dict[str, list[tuple[_Spelling, str]]]()
    sure = [(spelling, substance) for spelling, substance, sure in named if sure]
    for spelling, substance in (*sure, *allergens):
        if spelling.words:
            known.setdefault(spelling.joined, []).append((spelling, substance))
    surely: dict[str, tuple[str, ...]] = {}
    perhaps: dict[str, tuple[str, ...]] = {}
    for each in ingredients:
        told = (each.key, each.name, *each.aliases, *([each.inci] if each.inci else []))
        spellings = list(dict.fromkeys(map(_spelt, told)))
        same = {
            substance
            for mine in spellings
            for spelling, substance in known.get(mine.joined, ())
            if mine.oil or not spelling.oil or each.category == "scent"
        }
        near = {} if same else dict.fromkeys(names.near(spellings))
        if same:
            new = (x for x in sorted(same) if each.key not in contents.get(x, {}))
            surely[each.key] = tuple(new)
        open_ = tuple(x for x in near if each.key not in contents.get(x, {}))
        if open_:
            perhaps[each.key] = open_
    return Called(surely, perhaps)


def with_named(
    contents: Contents, called: Called, ingredients: Mapping[str, Ingredient]
) -> Contents:
    """Return contents in which what has a substance's name is all of it."""
    found = {name: dict(rows) for name, rows in contents.items()}
    for key, substances in called.surely.items():
        origin = ingredients[key].origin
        for name in substances:
            whole = Figure(100.0, 100.0, 100.0, "%", "assumed", (), origin)
            found.setdefault(name, {})[key] = whole
    return found


def _alone(each: ScentAllergen) -> bool:
    return len(each.substances) == 1


def _limited(
    limits: Iterable[SubstanceLimit],
) -> Iterator[tuple[_Spelling, str, bool]]:
    """Yield the names of what limits count, each with its substance, and if it is sure.

    A limit's own name is that of the substance which counts most toward it. A name
    with a question mark may be that of something else too.
    """
    seen = set[tuple[str, str]]()
    for limit in limits:
        most = max(limit.factors, key=lambda x: limit.factors[x])
        named = [(limit.name, most)]
        for substance in limit.factors:
            names = (substance, *limit.names.get(substance, ()))
            named += [(name, substance) for name in names]
        for name, substance in named:
            if (name, substance) not in seen:
                seen.add((name, substance))
                yield _spelt(name), substance, not name.endswith(UNSURE)


class _Names:
    """The names of what limits count, by their words.

    An ingredient's name is held against those alone that have a word like one of its
    own, and each word is likened once.
    """

    def __init__(self, limited: Sequence[tuple[_Spelling, str]]) -> None:
        self._limited = limited
        self._having: dict[str, list[int]] = {}
        for place, (spelling, _) in enumerate(limited):
            for word in {*spelling.words}:
                self._having.setdefault(word, []).append(place)
        self._first: dict[str, list[str]] = {}
        for word in self._having:
            self._first.setdefault(word[0], []).append(word)
        self._like: dict[str, frozenset[str]] = {}

    def near(self, spellings: Sequence[_Spelling]) -> Iterator[str]:
        """Yield the substances all of whose words are in a name, or a slip away."""
        places = {
            place
            for mine in spellings
            for own in mine.words
            for word in self._like_of(own)
            for place in self._having[word]
        }
        met = [
            ({*wanted.words}, substance)
            for wanted, substance in map(self._limited.__getitem__, sorted(places))
            if any(self._holds(mine, wanted) for mine in spellings)
        ]
        # Of "tagetes" and "tagetes erecta" the one that tells more.
        yield from (
            substance for words, substance in met if not any(words < x for x, _ in met)
        )

    def _holds(self, mine: _Spelling, wanted: _Spelling) -> bool:
        """Whether each word of a name is met, by as many words of one's own."""
        words = {*wanted.words}
        met = [words & self._like_of(own) for own in {*mine.words}]
        return set().union(*met) == words and sum(map(bool, met)) >= len(words)

    def _like_of(self, own: str) -> frozenset[str]:
        """Return the words of the law that a word is, or is a slip of."""
        if own not in self._like:
            self._like[own] = frozenset(
                word for word in self._first.get(own[0], ()) if _alike(own, word)
            )
        return self._like[own]


def _alike(word: str, other: str) -> bool:
    """Whether two words of one first letter are the same, but for a slip."""
    from rapidfuzz.fuzz import ratio  # noqa: PLC0415 - only where one has own names

    if word == other:
        return True
    return min(len(word), len(other)) >= SHORTEST and ratio(word, other) >= NEAR


def _spelt(name: str) -> _Spelling:
    folded = EITHER.sub("oil", fold(name))
    words = [_one(x) for x in re.findall(r"\w+", folded) if x not in IDLE]
    rest = tuple(x for x in words if x not in OILS)
    return _Spelling(rest, len(rest) < len(words))


def _one(word: str) -> str:
    """Return a word in the singular.

    >>> _one("sulphites"), _one("citrus")
    ('sulphite', 'citrus')
    """
    plural = len(word) > 3 and word.endswith("s") and word[-2] not in "aius"
    return word[:-1] if plural else word
