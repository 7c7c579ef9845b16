"""Names as recipes write them, matched to the catalogue, to a category, or to nothing.

The order: what the maker taught, the catalogue's own spellings, the same without
words such as "organic", the words of recipes, a choice ("shea or cocoa butter"), a
spelling that is nearly one of the catalogue's, and last the noun a name ends with.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from difflib import SequenceMatcher, get_close_matches

from optimiser.domain.catalogue import Catalogue, fold
from optimiser.domain.recipe import Match, Word

__all__ = ["Matcher"]

NEAR = 0.85  # a spelling nearer than this is taken, and said
APART = 0.03  # unless another is within this of it
SHOWN = 0.6  # one nearer than this is only named
MOST_NEAR = 400  # looking for near spellings of thousands of names takes long
FORMS = {
    "melted": "melted",
    "liquefied": "melted",
    "grated": "grated",
    "shaved": "grated",
    "chopped": "grated",
    "pellets": "pellets",
    "pastilles": "pellets",
    "beads": "pellets",
    "tightly packed": "packed",
    "packed": "packed",
}
_FORM = re.compile(
    r"\b(loosely packed|tightly packed|packed|melted|liquefied|grated|shaved|chopped"
    r"|pellets|pastilles)\b"
)
_PLAIN = re.compile(
    r"\b(organic|pure|natural|cosmetic grade|food grade|light|fresh|dried|any|your|"
    r"choice of|broad-spectrum|liquid|finely|coarsely|ground|white|yellow|refined|"
    r"medium|fine|coarse|good quality|optional|of choice|your choice)\b"
)
_BRACKETS = re.compile(r"\([^()]*\)")
# Short forms that stand for one thing only.
_SHORT = {
    "vit": "vitamin",
    "vit.": "vitamin",
    "eo": "essential oil",
    "eos": "essential oils",
    "fo": "fragrance oil",
}
_PARTING = re.compile(r",\s*(?:or|and)\s+|\s+or\s+|\s+and/or\s+|,\s*|\s+and\s+|\s*/\s*")
_ABSENT = re.compile(r"strained out|strained off|removed again|discarded")
_BUTTERS = {"hard butter", "soft butter", "butters"}


class Matcher:
    """Matches written names, each spelling once.

    Parameters
    ----------
    catalogue : Catalogue
        Its keys, names, aliases and unshared INCI names are known spellings.
    words : iterable of Word
        What the words of recipes stand for.
    taught : mapping of written name to Match, folded
        What the maker said names stand for; it comes before all else.
    """

    def __init__(
        self,
        catalogue: Catalogue,
        words: Iterable[Word],
        taught: Mapping[str, Match] | None = None,
    ) -> None:
        self.catalogue = catalogue
        self._taught = dict(taught or {})
        self._words = {fold(word.words): word for word in words}
        self._contains = [w for w in self._words.values() if w.match == "contains"]
        self._known: dict[str, Match] = {}
        self._spellings = self._all_spellings()
        self._looked = 0

    def _all_spellings(self) -> dict[str, str]:
        found: dict[str, str] = {}
        for each in self.catalogue.ingredients.values():
            for name in (each.name, *each.aliases):
                found.setdefault(fold(name), each.key)
        return found

    def match(self, written: str) -> Match:
        """Return what a written name stands for, and how that was found."""
        if written not in self._known:
            self._known[written] = self._match(fold(written))
        return self._known[written]

    def _match(self, name: str) -> Match:
        form = self._form(name)
        if name in self._taught:
            return _with(self._taught[name], form)
        if _ABSENT.search(name):
            return Match((), None, "taken out again", "as written", absent="taken out")
        if key := self.catalogue.find(name):
            return self._one(key, "a name of the catalogue", "as written", form)
        plain, dropped = _stripped(name)
        plain = " ".join(_SHORT.get(word, word) for word in plain.split())
        found = self._plainly(plain, form) or self._choice(plain, form)
        found = found or self._near(plain, form) or self._by_noun(plain, form)
        if found is None:
            nearest = self._nearest(plain)
            return Match((), None, "not known", "unknown", form, nearest=nearest)
        return _with(found, form, dropped)

    def _form(self, name: str) -> str:
        """Return how a spoon of it is filled, as far as the name tells."""
        found = [each for each in _FORM.findall(name) if each != "loosely packed"]
        return FORMS[found[-1]] if found else ""

    def _one(self, key: str, how: str, sure: str, form: str = "") -> Match:
        category = self.catalogue.ingredients[key].category
        return Match((key,), category, how, sure, form)

    def _plainly(self, name: str, form: str) -> Match | None:
        """Return the match of a name that is known as it stands, or in the singular."""
        for spelling in (name, name.removesuffix("s"), _without_qualifiers(name)):
            if key := self.catalogue.find(spelling):
                how = "a name of the catalogue"
                if spelling != name:
                    how = f"read as {self.catalogue.ingredients[key].name}"
                return self._one(key, how, "as written", form)
            word = self._words.get(spelling)
            if word is not None:
                return self._word(word, form)
        return None

    def _word(self, word: Word, form: str) -> Match:
        if word.options:
            name = self.catalogue.ingredients[word.options[0]].name
            how = f"'{word.words}' read as {name}"
            return Match(word.options, word.category, how, "assumed", form)
        how = f"only the category is told: {word.category}"
        return Match((), word.category, how, "as written", form)

    def _choice(self, name: str, form: str) -> Match | None:
        """Return the match of "shea or cocoa butter": several names in one."""
        parts = [part.strip() for part in _PARTING.split(name) if part.strip()]
        if len(parts) < 2:
            return None
        mixed = " or " not in f" {name} " and " and " in name
        ends = _endings(parts[-1])
        found = [each for part in parts if (each := self._part(part, ends))]
        if not found or (mixed and len(found) < len(parts)):
            return None
        options = tuple(dict.fromkeys(key for each in found for key in each.options))
        category, unsure = _shared_category(found)
        how = "a mixture, shares not told" if mixed else "a choice"
        names = [self.catalogue.ingredients[key].name for key in options]
        how += f" of {', '.join(names)}" if names else ""
        if len(found) < len(parts):
            how += "; a part of the name is not known"
        if options and any(not each.options for each in found):
            how, unsure = f"{how} or another of its kind", True
        if unsure and len({each.category for each in found}) > 1:
            how += f"; counted as {category}, the first of them"
        sure = "assumed" if unsure else "as written"
        return Match(options, category, how, sure, form)

    def _part(self, part: str, ends: tuple[str, ...]) -> Match | None:
        """Return the match of one of several names, with the last one's noun."""
        part = part.removeprefix("other ").removeprefix("another ")
        if len(part) > 60:
            return None
        for spelling in (part, *(f"{part} {end}" for end in ends)):
            plain = _without_qualifiers(spelling)
            for each in (spelling, plain, plain.removesuffix("s")):
                if key := self.catalogue.find(each):
                    return self._one(key, "", "as written")
                if each in self._words:
                    return self._word(self._words[each], "")
        return self._by_noun(part, "")

    def _near(self, name: str, form: str) -> Match | None:
        """Return the match of a slip of spelling: near enough, and the same noun.

        Likeness is that of the words before the noun: rose is not rosemary, though
        the names of their oils are long and much alike.
        """
        if name.split()[-1:] and self._looked < MOST_NEAR:
            self._looked += 1
            close = get_close_matches(name[:60], self._spellings, n=6, cutoff=NEAR)
            scored = sorted((_likeness(name, each), each) for each in close)[::-1]
            keys = {self._spellings[each] for score, each in scored[:2]}
            clear = len(keys) < 2 or scored[0][0] - scored[1][0] > APART
            if scored and scored[0][0] >= NEAR and clear:
                score, spelling = scored[0]
                how = f"spelt nearly as {spelling} (likeness {score:.2f})"
                one = self._one(self._spellings[spelling], how, "assumed", form)
                return Match(one.options, one.category, how, "assumed", form, score)
        return None

    def _nearest(self, name: str) -> str | None:
        if not name or self._looked >= MOST_NEAR:
            return None
        close = get_close_matches(name[:60], self._spellings, n=1, cutoff=SHOWN)
        return close[0] if close else None

    def _by_noun(self, name: str, form: str) -> Match | None:
        """Return the match by the longest word of recipes that a name ends with."""
        parts = name.split()
        for start in range(len(parts)):
            word = self._words.get(" ".join(parts[start:]))
            if word is not None and (word.match == "end" or start == 0):
                return _told_by(self._word(word, form), word.words, start > 0)
        for word in self._contains:
            if word.words in name:
                return _told_by(self._word(word, form), word.words, True)
        return None


def _likeness(name: str, other: str) -> float:
    """Return how alike two names are but for the words that both end with.

    >>> _likeness("coco butter", "cocoa butter") > 0.85
    True
    >>> _likeness("rose essential oil", "rosemary essential oil") > 0.85
    False
    """
    mine, theirs = name.split(), other.split()
    while len(mine) > 1 and len(theirs) > 1 and mine[-1] == theirs[-1]:
        mine, theirs = mine[:-1], theirs[:-1]
    return SequenceMatcher(None, " ".join(mine), " ".join(theirs)).ratio()


def _told_by(match: Match, word: str, partly: bool) -> Match:
    """Return a match by a noun: the category is sure, the ingredient is not."""
    if not partly:
        return match
    if match.options:
        return _with(match, match.form)
    how = f"'{word}' tells the category, {match.category}; the ingredient is not known"
    return Match((), match.category, how, "assumed", match.form)


def _with(match: Match, form: str, dropped: str = "") -> Match:
    how = f"{match.how}; not read: {dropped}" if dropped else match.how
    return Match(
        match.options,
        match.category,
        how,
        match.sure,
        form or match.form,
        match.score,
        match.nearest,
    )


def _stripped(name: str) -> tuple[str, str]:
    """Return a name without brackets and ways of filling, and what was dropped."""
    dropped = " ".join(_BRACKETS.findall(name))
    bare = _FORM.sub(" ", _BRACKETS.sub(" ", name))
    bare = re.sub(r"\s*,(\s*,)*\s*", ", ", " ".join(bare.split()))
    return bare.strip(" ,;.*"), "" if "optional" in dropped else dropped


def _without_qualifiers(name: str) -> str:
    return " ".join(_PLAIN.sub(" ", name).split()).strip(" ,")


def _endings(last: str) -> tuple[str, ...]:
    """Return the nouns that the last of several names may lend to the others."""
    parts = last.split()
    return tuple(" ".join(parts[start:]) for start in range(1, len(parts)))[::-1]


def _shared_category(found: list[Match]) -> tuple[str | None, bool]:
    """Return the category of a choice, and whether the first one had to be taken."""
    categories = list(dict.fromkeys(each.category for each in found if each.category))
    if not categories:
        return None, False
    if len(categories) == 1:
        return categories[0], False
    if set(categories) <= _BUTTERS:
        return "butters", False
    return categories[0], True
