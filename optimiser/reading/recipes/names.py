"""Names as recipes write them, matched to the catalogue, to a category, or to nothing.

The order: what the maker taught, the catalogue's own spellings, a blend by its parts,
the same words among descriptions of the goods (`spellings`), brackets, a choice ("shea
or cocoa butter"), the words of recipes, a slip of spelling, and last the noun that a
name ends with.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from functools import cached_property

from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue, fold
from optimiser.domain.recipe import Match, Word
from optimiser.reading.recipes.spellings import Speller, cut_up, tokens, without_goods

__all__ = ["LEAVES", "Matcher", "certain"]

NEAR = 80.0  # a word nearer than this is taken for a slip of it, percent, and said
NEAR_WHOLE = 85.0  # the same of a whole name
APART = 3.0  # unless another is within this of it
SHOWN = 60.0  # a name nearer than this is only named
LONGEST = 80  # signs of a name that are compared
POURED = {"liquid oil", "scent"}
MOST_PARTS = 12  # of a choice
SHORTEST = 5  # letters of a word that may be a slip of another
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
LEAVES = "leaves"  # petals, herbs: a spoon of them is mostly air
_FORM = re.compile(
    r"\b(loosely packed|tightly packed|packed|melted|liquefied|grated|shaved|chopped"
    r"|pellets|pastilles)\b"
)
_LEAVES = re.compile(r"\b(petals?|flowers?|blossoms?|herbs?|leaf|leaves|buds|dried)\b")
_POWDER = re.compile(r"\b(powder|powdered|ground)\b")
_BRACKETS = re.compile(r"[(\[]([^()\[\]]*)[)\]]")
_EXAMPLES = re.compile(r"\b(such as|for example|e\.?g\.?|like|preferably)\b.*$")
_OR = re.compile(r"\b(?:or|and/or)\b|\s/\s")
_PARTING = re.compile(
    r",\s*(?:or|and)\s+|\s+or\s+|\s+and/or\s+|,\s*|\s+and\s+|\s*[/&+]\s*"
)
_OTHER = re.compile(r"\b(other|another|similar|equivalent|alternative)\b")
_ABSENT = re.compile(r"strained out|strained off|removed again|discarded")
_PAUSE = re.compile(r"\s*[,;:]\s*|\s+[-\u2013\u2014]\s+")
_GRADES = {
    "oleic",
    "distilled",
    "extract",
    "absolute",
    "hydrosol",
    "hydrogenated",
    "fractionated",
    "infused",
    "olein",
    "stearin",
}
# Marigold has no oil of its own to press: what is called so is an infusion.
_INFUSED = {"infused", "infusion", "macerated", "maceration", "macerate", "calendula"}
_BARE = {("oil",), ("butter",)}  # tell of no one oil
_BUTTERS = {"hard butter", "soft butter", "butters"}
_OILS = {"hard butter", "soft butter", "liquid oil"}
_Tokens = tuple[str, ...]


class Matcher:
    """Matches written names, each spelling once.

    Parameters
    ----------
    catalogue : Catalogue
        Its keys, names, aliases and INCI names are known spellings.
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
        words = tuple(word for word in words if word.match != "guess")
        self._words = {tokens(word.words): word for word in reversed(words)}
        self._contains = [w for w in words if w.match == "contains"]
        self._same = {word.words: word.other for word in words if word.match == "same"}
        self._asked = {w.words: w.options for w in words if len(w.options) > 1}
        self._known: dict[str, Match] = {}

    @cached_property
    def _speller(self) -> Speller:
        return Speller(self.catalogue.ingredients, self._asked, self._same)

    @cached_property
    def _spellings(self) -> dict[str, str]:
        found: dict[str, str] = {}
        for each in self.catalogue.ingredients.values():
            for name in (each.name, *each.aliases):
                found.setdefault(fold(name), each.key)
        return found

    @cached_property
    def _names(self) -> tuple[str, ...]:
        return tuple(self._spellings)

    @cached_property
    def _vocabulary(self) -> frozenset[str]:
        """Words that something is spelt with, or that recipes use."""
        nouns = {word for words in self._words for word in words}
        return self._speller.vocabulary | nouns

    @cached_property
    def _mendable(self) -> tuple[str, ...]:
        """Words that another may be a slip of."""
        long = (each for each in self._vocabulary if len(each) >= SHORTEST - 1)
        return tuple(sorted(long))

    def match(self, written: str) -> Match:
        """Return what a written name stands for, and how that was found."""
        if written not in self._known:
            self._known[written] = self._match(fold(written))
        return self._known[written]

    def left_open(self, written: str) -> str | None:
        """Return what keeps a name from standing for one ingredient, if it is known."""
        match = self.match(written)
        names = [self.catalogue.ingredients[key].name for key in match.options]
        if len(names) > 1:
            return f"may be {' or '.join(names)}"
        if match.open:
            return f"may be {names[0]} or another {match.category}"
        if match.category == "liquid oil" and self.asks_its_oil(written):
            return "is made in an oil that it does not tell"
        if not names and match.category is not None:
            return f"tells only that it is of the category {match.category}"
        return None

    def asks_its_oil(self, written: str) -> bool:
        """Whether a name tells of an infusion, and not what it was made with."""
        words = set(tokens(fold(written)))
        return bool(words & _INFUSED) and not any(map(self._is_oil, words))

    def made_in(self, written: str) -> str | None:
        """Return the key of the oil or butter that a name says it was infused in.

        Of several, the one of most words: rosehip infused olive oil is made in olive
        oil. None where it is no infusion, or where two of as many words are named.
        """
        words = tokens(fold(written))
        if not _INFUSED & {*words} or {"and", "or"} & {*words}:
            return None
        for length in range(len(words), 0, -1):
            spans = (words[at : at + length] for at in range(len(words) - length + 1))
            keys = {
                key
                for span in spans
                if not _INFUSED & {*span} and span not in _BARE
                for key in self._oils(span)
            }
            if keys:
                return keys.pop() if len(keys) == 1 else None
        return None

    def _oils(self, words: _Tokens) -> Iterator[str]:
        """Yield the one oil or butter that words name, with "oil" or without."""
        known = self.catalogue.ingredients
        for each in (words, (*words, "oil")):
            keys = self._speller.find(each)
            if len(keys) == 1 and known[keys[0]].category in _OILS:
                yield keys[0]

    def _match(self, name: str) -> Match:
        form = self._form(name)
        if name in self._taught:
            return _with(self._taught[name], form)
        if _ABSENT.search(name):
            return Match((), None, "taken out again", "as written", absent="taken out")
        if key := self.catalogue.exact(name):
            return _with(self._one(key, "a name of the catalogue", "as written"), form)
        plain = _EXAMPLES.sub("", name).strip(" ,;.*(") or name
        found = self._read(plain) or self._near(plain) or self._before_comma(plain)
        found = found or self._by_noun(plain)
        if found is None:
            nearest = self._nearest(plain)
            return Match((), None, "not known", "unknown", form, nearest=nearest)
        return _with(found, form)

    def _form(self, name: str) -> str:
        """Return how a spoon of it is filled, as far as the name tells."""
        if _LEAVES.search(name) and not _POWDER.search(name):
            return LEAVES
        found = [each for each in _FORM.findall(name) if each != "loosely packed"]
        return FORMS[found[-1]] if found else ""

    def _one(self, key: str, how: str, sure: str) -> Match:
        category = self.catalogue.ingredients[key].category
        return Match((key,), category, how, sure)

    def _read(self, name: str) -> Match | None:
        """Return the match of a name that is spelt as known words, brackets read too.

        What stands in brackets may go with the words around it, be another name for
        them, tell them nearer, or be another choice.
        """
        if blend := self._speller.blend(name):
            return self._of(blend, name)
        inside = [each.strip() for each in _BRACKETS.findall(name) if each.strip()]
        outside = " ".join(_BRACKETS.sub(" ", name).split()).strip(" ,;.*")
        if not inside:
            return self._plainly(name)
        if any(_OR.search(each) for each in inside):
            return self._choice_inside(outside, inside)
        whole = _BRACKETS.sub(r" \1 ", name)
        found = None if _OR.search(whole) else self._spelt(whole)
        if found is None or found.ingredient is None:
            outer = self._plainly(outside)
            found = outer if outer is not None and outer.options else found or outer
        if found is not None and found.ingredient is not None:
            nearer = self._nearer(outside, " ".join(inside), found)
            nearer = nearer or self._graded(found, inside)
            return nearer or self._dropping(found, inside)
        if self.asks_its_oil(outside):
            how = "an infusion; brackets tell of what it is made with, if of anything"
            return found or Match((), "liquid oil", how, "assumed")
        tail = name.rpartition(")")[2] or name.rpartition("]")[2]
        return self._told_inside(inside, tail, found)

    def _told_inside(
        self, inside: list[str], tail: str, found: Match | None
    ) -> Match | None:
        """Return what brackets tell nearer than the words around them do."""
        for each in inside:
            for text in (f"{each} {tail}", each):
                nearer = self._spelt(text)
                if nearer is None or not nearer.options or not _fits(nearer, found):
                    continue
                if not self._says_nothing(each, found):
                    return nearer
        return found and self._dropping(found, inside)

    def _graded(self, found: Match, inside: list[str]) -> Match | None:
        """Return the category alone where brackets tell of another grade, or oil."""
        known = {w for key in found.options for w in tokens(self._all_names(key))}
        for each in inside:
            unread = set(tokens(each)) - known
            if unread & _GRADES:
                other = "grade"
            elif "infused" in known and any(map(self._is_oil, unread)):
                other = "oil"
            else:
                continue
            how = f"'{each}' tells of another {other}; only the category is told"
            return Match((), found.category, how, "assumed")
        return None

    def _is_oil(self, word: str) -> bool:
        """Whether a word names what an infusion may be made with."""
        keys = self._speller.find((word, "oil"))
        return any(self.catalogue.ingredients[k].category in _OILS for k in keys)

    def _nearer(self, first: str, rest: str, found: Match) -> Match | None:
        """Return the grade that a word tells which stands apart from a name.

        "Cane sugar (fine)" and "shea butter - unrefined, Ghana" are no other sugar and
        butter by all of their words, but by that one. A word that names something by
        itself tells of something else.
        """
        known = self.catalogue.ingredients
        if found.ingredient is None:
            return None

        def goods(key: str) -> tuple[str, str | None, str | None]:
            each = known[key]
            return each.category, each.kind, each.made_in  # its oil is no grade of it

        for word in tokens(rest):
            if word not in self._vocabulary or self._spelt(word) is not None:
                continue
            for text in (f"{first} {word}", " ".join((word, *tokens(first)[-1:]))):
                keys = self._speller.find(self._speller.read(text))
                if len(keys) != 1 or keys[0] == found.ingredient:
                    continue
                if goods(keys[0]) == goods(found.ingredient):
                    how = f"read as {known[keys[0]].name}; not all words are known"
                    return self._one(keys[0], how, "assumed")
        return None

    def _says_nothing(self, inside: str, found: Match | None) -> bool:
        """Whether all of several ingredients have the name that brackets tell."""
        keys = () if found is None else found.options
        words = set(tokens(inside))
        return bool(keys) and all(
            words <= set(tokens(self._all_names(key))) for key in keys
        )

    def _dropping(self, found: Match, inside: list[str]) -> Match:
        """Return a match that says what of the brackets was not read."""
        known = {w for key in found.options for w in tokens(self._all_names(key))}
        unread = [
            each
            for each in inside
            if each != "optional" and set(without_goods(tokens(each))) - known
        ]
        if not unread:
            return found
        told = " ".join(f"({each})" for each in unread)
        return replace(found, how=f"{found.how}; not read: {told}")

    def _all_names(self, key: str) -> str:
        each = self.catalogue.ingredients[key]
        return " ".join((each.name, *each.aliases, each.inci or ""))

    def _choice_inside(self, outside: str, inside: list[str]) -> Match | None:
        """Return the match of "oil (olive or almond)" or "beeswax (or soy wax)"."""
        outer = self._plainly(outside)
        for each in inside:
            if not _OR.search(each) or "%" in each:  # a note on amounts is no choice
                continue
            if _OR.match(each):
                other = _OR.sub("", each, count=1)
                return self._choice(f"{outside} or {other}") or outer
            found = self._choice(each, ends=tokens(outside))
            if found is not None and _names_again(outer, found):
                return found
        return outer and self._dropping(outer, inside)

    def _plainly(self, name: str) -> Match | None:
        """Return the match of a name without brackets."""
        if not _OR.search(name):
            found = self._spelt(name)
            if found is not None:
                return found
        return self._choice(name)

    def _spelt(self, name: str) -> Match | None:
        """Return the match of words that spell an ingredient, or a word of recipes."""
        if blend := self._speller.blend(name):
            return self._of(blend, name)
        words = self._speller.read(name)
        if found := self._speller.find(words):
            return self._of(found, name)
        for each in (words, without_goods(words)):
            word = self._words.get(each)
            if word is not None and word.match != "same":
                return self._word(word)
        return None

    def _of(self, keys: _Tokens, name: str) -> Match:
        """Return the match of what a name spells: one ingredient, or which is asked."""
        names = [self.catalogue.ingredients[key].name for key in keys]
        if len(keys) == 1:
            alike = fold(names[0]) == fold(name)
            how = "a name of the catalogue" if alike else f"read as {names[0]}"
            return self._one(keys[0], how, "as written")
        category, _ = _shared_category([self._one(key, "", "") for key in keys])
        how = f"which one is not told: {' or '.join(names)}"
        return Match(keys, category, how, "assumed", asked=True)

    def _word(self, word: Word) -> Match:
        if len(word.options) > 1:
            return self._of(word.options, word.words)
        if word.options:
            name = self.catalogue.ingredients[word.options[0]].name
            how = f"'{word.words}' read as {name}"
            return Match(word.options, word.category, how, "assumed")
        how = f"only the category is told: {word.category}"
        return Match((), word.category, how, "as written")

    def _choice(self, name: str, ends: _Tokens = ()) -> Match | None:
        """Return the match of "shea or cocoa butter": several names in one."""
        parts = [part.strip(" ()[].;") for part in _PARTING.split(name)]
        parts = [part for part in parts if part]
        if not ends:  # "shaved or pellets" is no choice of goods; (white or brown) is
            parts = [x for x in parts if x.isdigit() or without_goods(tokens(x))]
        if len(parts) == 1 and _OR.search(name):  # the others told of the goods
            return self._spelt(parts[0])
        if len(parts) < 2 or len(parts) > MOST_PARTS:
            return None
        mixed = not _OR.search(name) and bool(re.search(r"\band\b|[&+]", name))
        listed = bool(ends) or mixed or bool(_OR.search(name))
        found = [self._part(part, parts, ends) for part in parts]
        known = [each for each in found if each is not None]
        if not known or (len(known) < len(parts) and (mixed or not listed)):
            return None
        options = tuple(dict.fromkeys(key for each in known for key in each.options))
        whole = len(known) == len(parts) and all(each.options for each in known)
        if len(options) == 1 and whole:
            return self._of(options, name)
        if not listed and "/" not in name:  # a comma alone tells of the goods
            return None
        category, unsure = _shared_category(known)
        how = "a mixture, shares not told" if mixed else "a choice"
        names = [self.catalogue.ingredients[key].name for key in options]
        how += f" of {', '.join(names)}" if names else ""
        if len(known) < len(parts):
            how += "; a part of the name is not known"
        if options and any(not each.options for each in known):
            how, unsure = f"{how} or another of its kind", True
        bare = len(options) == 1 and not _OTHER.search(name)
        if unsure and len({each.category for each in known}) > 1:
            how += f"; counted as {category}, the first of them"
        sure = "assumed" if unsure or bare else "as written"
        return Match(options, category, how, sure, open=bare, mixed=mixed)

    def _part(self, part: str, parts: list[str], ends: _Tokens) -> Match | None:
        """Return the match of one of several names, with the noun of the others."""
        part = part.removeprefix("other ").removeprefix("another ")
        if len(part) > LONGEST:
            return None
        last, first = parts[-1].split(), parts[0].split()
        tails = [" ".join(last[at:]) for at in range(len(last) - 1, 0, -1)]
        if ends:
            tails.append(" ".join(ends))
        lent = [f"{part} {tail}" for tail in tails if tail]
        if len(tokens(part)) == 1 and len(first) > 1 and part != parts[0]:
            lent += [f"{part} {first[-1]}", f"{' '.join(first[:-1])} {part}"]
        told = self._spelt(part)
        if told is not None:
            if told.ingredient and len(tokens(part)) == 1:
                return self._better(told, lent)
            if told.options or part == parts[-1]:
                return told
        found = (each for text in lent if (each := self._spelt(text)) is not None)
        return next(found, None) or told or self._by_noun(part)

    def _better(self, told: Match, lent: list[str]) -> Match:
        """Return what a bare word is with a lent noun, if it is a name then too.

        "Coffee" is ground coffee, but "coffee or shea butter" names two butters.
        """
        for text in lent:
            keys = self._speller.find(self._speller.read(text))
            if len(keys) == 1:
                return self._of(keys, text)
        return told

    def _near(self, name: str) -> Match | None:
        """Return the match of a slip of spelling.

        Only words that nothing is spelt with are slips: rose is not rosemary. If that
        finds nothing, a whole name counts that is nearly one of the catalogue's.
        """
        if len(name) > LONGEST or _OR.search(name):
            return None
        words = self._speller.read(_BRACKETS.sub(" ", name))
        found: dict[str, tuple[float, str]] = {}
        for mended, score in self._mended(words):
            keys = self._speller.find(mended)
            if len(keys) == 1 and found.get(keys[0], (0.0, ""))[0] < score:
                found[keys[0]] = (score, " ".join(mended))
        if not found:
            return self._near_whole(words) or self._beside_unknown(words)
        (key, (score, spelling)), *rest = sorted(found.items(), key=lambda x: -x[1][0])
        if any(score - other <= APART for _, (other, _) in rest):
            return None
        return self._slip(key, spelling, score)

    def _slip(self, key: str, spelling: str, score: float) -> Match:
        how = f"spelt nearly as {spelling}"
        return replace(self._one(key, how, "assumed"), score=score / 100)

    def _mended(self, words: _Tokens) -> list[tuple[_Tokens, float]]:
        """Return words with the slips among them mended, and the least likeness.

        Where several known words are near to one of them, each is tried.
        """
        from rapidfuzz import fuzz, process  # noqa: PLC0415

        tried: list[tuple[_Tokens, float]] = [((), 100.0)]
        for word in words:
            near: list[tuple[str, float]] = [(word, 100.0)]
            if self._may_be_a_slip(word):
                close = process.extract(
                    word, self._mendable, scorer=fuzz.ratio, score_cutoff=NEAR, limit=4
                )
                near = [(found, score) for found, score, _ in close] or near
            tried = [((*t, w), min(x, s)) for t, x in tried for w, s in near][:9]
        return [each for each in tried if each[0] != words]

    def _may_be_a_slip(self, word: str) -> bool:
        return (
            len(word) >= SHORTEST
            and word not in self._vocabulary
            and without_goods((word,)) != ()
        )

    def _near_whole(self, words: _Tokens) -> Match | None:
        """Return the match of a whole name that is nearly one of the catalogue's."""
        from rapidfuzz import fuzz, process  # noqa: PLC0415

        kept = (w for w in words if len(w) == 1 or cut_up((w,)) or without_goods((w,)))
        name = " ".join(kept)
        close = process.extract(
            name, self._names, scorer=fuzz.ratio, score_cutoff=NEAR_WHOLE, limit=6
        )
        scored = sorted(((_likeness(name, x[0]), x[0]) for x in close), reverse=True)
        if not scored or scored[0][0] < NEAR_WHOLE:
            return None
        (score, spelling), *rest = scored
        key = self._spellings[spelling]
        if any(score - s <= APART and self._spellings[x] != key for s, x in rest):
            return None
        if not self._speller.fits(key, words):
            return None
        return self._slip(key, spelling, score)

    def _beside_unknown(self, words: _Tokens) -> Match | None:
        """Return the match of a known name beside words that mean nothing here."""
        for key in self._speller.nearly(words, self._vocabulary):
            name = self.catalogue.ingredients[key].name
            return self._one(key, f"read as {name}; not all words are known", "assumed")
        return None

    def _nearest(self, name: str) -> str | None:
        from rapidfuzz import fuzz, process  # noqa: PLC0415

        found = process.extractOne(
            name[:LONGEST], self._names, scorer=fuzz.ratio, score_cutoff=SHOWN
        )
        return None if found is None else found[0]

    def _before_comma(self, name: str) -> Match | None:
        """Return the match of what stands before a comma or a dash, if that is known.

        What stands after it may tell of another grade: then only the category counts.
        """
        first, _, rest = _PAUSE.sub("\n", name).partition("\n")
        if not rest.strip() or _OR.search(name):
            return None
        found = self._read(first) or self._near(first) or self._by_noun(first)
        if found is None or (found.category in POURED and cut_up(tokens(rest))):
            return None
        graded = self._nearer(first, rest, found) or self._graded(found, [rest.strip()])
        how = f"{found.how}; not read: {rest.strip()}"
        return graded or replace(found, how=how, sure="assumed")

    def _by_noun(self, name: str) -> Match | None:
        """Return the match by the longest word of recipes that a name ends with."""
        bare = " ".join(_BRACKETS.sub(" ", name).split())
        for text in dict.fromkeys((bare, name)):
            read = self._speller.read(text)
            for words in dict.fromkeys((read, _trimmed(read))):
                for start in range(len(words)):
                    word = self._words.get(words[start:])
                    if word is None or word.match in {"same", "whole"}:
                        continue
                    return self._told_by(word, partly=start > 0)
        for word in self._contains:
            if word.words in name:
                return self._told_by(word, partly=True)
        return None

    def _told_by(self, word: Word, *, partly: bool) -> Match:
        """Return a match by a noun: the category is sure, the ingredient is not."""
        if not partly or (word.options and word.match == "end"):
            return self._word(word)
        how = f"'{word.words}' tells the category, {word.category}; "
        how += "the ingredient is not known"
        return Match((), word.category, how, "assumed")


def certain(match: Match) -> str | None:
    """Return the ingredient that a name stands for beyond doubt, or None."""
    return match.ingredient if match.sure == "as written" else None


def _likeness(name: str, other: str) -> float:
    """Return how alike two names are: as the least alike of their words, percent.

    Different short words are not alike, nor are names of more or fewer words, unless
    they are so but for spaces and a sign.

    >>> _likeness("coco butter", "cocoa butter") > 85
    True
    >>> _likeness("sorbitan oleate", "sorbitan stearate") > 85
    False
    >>> _likeness("raspberry seed oil", "raspberry seed")
    0.0
    """
    from rapidfuzz import fuzz  # noqa: PLC0415

    mine, theirs = name.split(), other.split()
    if len(mine) != len(theirs):
        one, two = "".join(mine), "".join(theirs)
        return fuzz.ratio(one, two) if abs(len(one) - len(two)) <= 1 else 0.0
    pairs = [(a, b) for a, b in zip(mine, theirs, strict=True) if a != b]
    if any(len(a) < SHORTEST - 1 for a, _ in pairs):
        return 0.0
    return min((fuzz.ratio(a, b) for a, b in pairs), default=100.0)


def _fits(nearer: Match, found: Match | None) -> bool:
    """Whether what brackets tell goes with the words around them."""
    if found is None or found.category is None:
        return True
    if found.options:
        return set(nearer.options) <= set(found.options)
    wider = _BUTTERS if found.category == "butters" else {found.category}
    return nearer.category in wider


def _names_again(outer: Match | None, found: Match) -> bool:
    """Whether a choice in brackets is one of what stands before them."""
    if outer is None or not outer.options:
        return True
    return bool(set(outer.options) & set(found.options))


def _trimmed(words: _Tokens) -> _Tokens:
    """Return words without those at the end that tell of the goods."""
    end = len(words)
    while end > 1 and (
        without_goods(words[end - 1 : end]) == () or words[end - 1] == "liquid"
    ):
        end -= 1
    return words[:end]


def _with(match: Match, form: str) -> Match:
    return replace(match, form=form or match.form)


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
