"""Names as words: what of them is a description of the goods, and what they spell.

A name is a bag of words, folded, in the singular, without accents. It spells an
ingredient if it holds all words of one of its spellings and whatever is left over
describes the goods ("wafers", "organic", "cold pressed") or is another name of the
same ingredient. The spelling with most words wins, so that "shea butter, unrefined"
is not "shea butter".
"""

from __future__ import annotations

import re
import unicodedata
from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping
from functools import cached_property, lru_cache

from msgspec import Struct

from optimiser.domain.catalogue import fold
from optimiser.domain.material import CATEGORIES, Ingredient

__all__ = ["Speller", "Spelling", "cut_up", "pieces", "tokens", "without_goods"]

Words = tuple[str, ...]

# Words that tell of the goods and not of what they are.
_GOODS = """
about additive african anhydrous any approx approximately artisan available bag based
batch best bio bit bleached blend block bottle bought bp brand brazilian brick bulgarian
bulk button capsule carrier celtic certified chemotype chip choice choosing chosen chunk
clear co coarse coarsely coated cold colourless combination cosmetic cosmo craft crude
ct cube cup cut dark dash deg degree deodorised deodorized derived disc disk drop dry
dutch ecocert edible egyptian ep ethical ethically eur expeller extra fair fairtrade
fancy favorite favourite fcc fed few filtered fine finely first food for free french
fresh freshly from fully genuine gf gmo golden good grade grain gram granular granule
grass handful handmade harvested heaping hexane high home homemade in inch indian
italian jamaican kg kibble knob kosher large lb level light lightly local loose loosely
lot lump medicinal medium melted mesh mexican micronised micronized milled mix mixture
ml more moroccan my nano natural new nf no non nugget of old optional organic original
ounce our oz packed pastille pearl pellet peruvian ph pharma pharmaceutical pharmacy
piece pierced pinch plain plus pot pound powdery prefer preferred premium press pressed
pressing prill prime processed professional pure purified quality raw rbd refined
regular rendered ripe roasted rspo salon scoop shard shaving sifted size sized slab
sliver small softened some source sourced spa spanish splash spoon spoonful standard
sterile stick store supermarket sustainable tablespoon tbsp teaspoon technical the thick
tightly to toasted traditional tsp tub type ultra unbleached uncoated undeodorised
undeodorized unhydrogenated unrefined unroasted unscented unsweetened untoasted usp
vegan virgin wafer want warm washed white wild wildcrafted wildharvested winterised
winterized with yellow you your hive farm part west north east south africa ghana ev
"""
_TOLD_OF_GOODS = frozenset(_GOODS.split())
# Parts of plants that names of fats and scents hold or leave out.
_PLANT = (
    "seed bean kernel nut fruit berry bran germ flower leaf peel herb rind wood bud"
)
_PARTS = frozenset(_PLANT.split())
_HUES = "blue green red pink orange purple gold silver black"
_COLOURS = frozenset(_HUES.split())
# Another name of the same does not make its extract or powder the same.
_OTHER_GOODS = frozenset({"extract", "powder", "juice", "water", "gel", "absolute"})
_OF_SCENTS = frozenset({"essential", "oil", "fold", "i", "ii", "iii", "complete"})
_FATS = frozenset({"liquid oil", "hard butter", "soft butter"})
_SOFT = frozenset({"hard butter", "soft butter"})
_NOT_GRAINS = frozenset(CATEGORIES) - {"exfoliant"}
_POWDERS = frozenset(CATEGORIES) - {
    "liquid oil",
    "soft butter",
    "exfoliant",
    "humectant",
    "antioxidant",
    "scent",
    "water",
}
# What is done to solids: dried or ground, it is not the oil of it.
_CUT = frozenset(
    {"blitzed", "chopped", "crushed", "dried", "flake", "grated", "ground"}
    | {"shaved", "shredded", "whole"}
)
_GROUND = frozenset({"ground", "crushed", "exfoliant"})
# Words that describe the goods of some categories, and tell other goods apart.
_ONLY_WITH = {
    "liquid": frozenset(CATEGORIES) - _SOFT,
    "solid": frozenset(CATEGORIES) - {"liquid oil"},
    "powder": _POWDERS,
    "crystal": _POWDERS | {"scent", "exfoliant"},
    "vegetable": frozenset({"fatty alcohol", "emulsifier", "humectant", "wax"}),
    "conditioner": frozenset({"emulsifier"}),
    "conditioning": frozenset({"emulsifier"}),
    "emulsifier": frozenset({"emulsifier"}),
    "exfoliant": frozenset({"exfoliant"}),
    "exfoliating": frozenset({"exfoliant"}),
    "scrub": frozenset({"exfoliant"}),
    "pigment": frozenset({"colour"}),
    "colourant": frozenset({"colour"}),
    "soft": frozenset(CATEGORIES) - _SOFT,
    "table": frozenset({"exfoliant"}),
    "oil": frozenset({"liquid oil", "antioxidant", "scent"}),
    "bead": _NOT_GRAINS,
    "noodle": _NOT_GRAINS,
    "wax": frozenset({"wax"}),
    "clay": frozenset({"powder"}),
    "distilled": frozenset({"water"}),
}
# Where an acid, alcohol or emulsifier is made from, and what grew in an oil.
_MADE_FROM = ("palm", "coconut", "soy", "rapeseed", "sugarcane")
_ONLY_WITH |= dict.fromkeys(
    _MADE_FROM, frozenset({"fatty alcohol", "emulsifier", "humectant"})
)
_ONLY_WITH |= dict.fromkeys(("cineole", "verbenone", "linalool"), frozenset({"scent"}))
_ONLY_WITH |= dict.fromkeys(_COLOURS, frozenset({"exfoliant", "colour"}))
_ONLY_WITH |= dict.fromkeys(_CUT, frozenset(CATEGORIES) - {"liquid oil", "scent"})
# Grades that are not one another: a word of one side contradicts a name of the other.
_OPPOSED = (
    (
        frozenset({"refined", "rbd", "deodorised", "deodorized"}),
        frozenset({"unrefined", "raw", "virgin", "crude", "undeodorised"})
        | {"undeodorized"},
    ),
    (frozenset({"hydrogenated"}), frozenset({"unhydrogenated"})),
    (frozenset({"fine", "finely"}), frozenset({"coarse", "coarsely"})),
    (frozenset({"white"}), frozenset({"yellow"})),
    (frozenset({"bitter"}), frozenset({"sweet"})),
)
_GRADED = frozenset(word for pair in _OPPOSED for side in pair for word in side)
_NEGATED = re.compile(
    r"\b(?:un|non|not)[\s-]*"
    r"(refined|deodori[sz]ed|hydrogenated|bleached|roasted|toasted)\b"
)
_APOSTROPHES = str.maketrans("`\u2018\u2019\u00b4", "''''")
_WORDS = re.compile(r"[^\W\d_]+|\d+")
_SAME = {
    "aluminum": "aluminium",
    "sulphate": "sulfate",
    "sulphated": "sulfated",
    "glycerine": "glycerin",
    "glycerol": "glycerin",
    "soya": "soy",
    "color": "colour",
    "flavor": "flavour",
    "flavoring": "flavouring",
    "fiber": "fibre",
    "cera": "wax",
    "grey": "gray",
    "deionized": "deionised",
    "moisturizing": "moisturising",
    "powdered": "powder",
    "colorant": "colourant",
    "luffa": "loofah",
    "loofa": "loofah",
    "pit": "stone",
    "eos": "eo",
    "kernal": "kernel",
    "karit": "karite",
}


@lru_cache(maxsize=1 << 15)
def tokens(text: str) -> Words:
    """Return the words of a name as they are compared.

    >>> tokens("Goat's Milk POWDERS, 76°F (organic)")
    ('goat', 'milk', 'powder', '76', 'f', 'organic')
    >>> tokens("BTMS50") == tokens("btms-50")
    True
    >>> tokens("non-refined shea")
    ('unrefined', 'shea')
    """
    plain = fold(text).translate(_APOSTROPHES)
    plain = re.sub(r"'s\b", "", plain).replace("'", "")
    plain = unicodedata.normalize("NFD", plain)
    plain = "".join(sign for sign in plain if not unicodedata.combining(sign))
    plain = _NEGATED.sub(r"un\1", plain)
    return tuple(_singular(word) for word in _WORDS.findall(plain))


def _singular(word: str) -> str:
    """Return a word in the singular, American spellings as British ones."""
    if len(word) > 3 and word.endswith("s") and not word.endswith(("ss", "us", "is")):
        word = f"{word[:-3]}y" if word.endswith("ies") else word[:-1]
    return _SAME.get(word, word)


def pieces(text: str) -> tuple[Words, ...]:
    """Return the parts of a blend's name, between (and), "and", commas or signs.

    >>> pieces("Cetearyl Olivate (and) Sorbitan Olivate")
    (('cetearyl', 'olivate'), ('sorbitan', 'olivate'))
    """
    parts = re.split(r"\(and\)|\band\b|\bwith\b|[,&+;/]", fold(text))
    return tuple(found for part in parts if (found := tokens(part)))


class Spelling(Struct, frozen=True):
    """What words may stand for: ingredient keys, and the category of the first."""

    words: Words
    keys: Words
    category: str
    counted: Mapping[str, int]


class Speller:
    """Finds the ingredients that words spell.

    Parameters
    ----------
    ingredients : mapping of key to Ingredient
        Their names, aliases and INCI names are spellings.
    asked : mapping of a name to ingredient keys
        Names that stand for several ingredients: a grade has to be asked for.
    same : mapping of words to words
        Short and other words: "evoo" is "extra virgin olive oil".
    """

    def __init__(
        self,
        ingredients: Mapping[str, Ingredient],
        asked: Mapping[str, Words],
        same: Mapping[str, str],
    ) -> None:
        self._ingredients = ingredients
        self._same = {tokens(short): tokens(long) for short, long in same.items()}
        self._longest = max((len(each) for each in self._same), default=0)
        self._own: dict[str, frozenset[str]] = {}
        self._spellings: dict[Words, Spelling] = {}
        self._joined: dict[str, Spelling] = {}
        self._blends: dict[frozenset[Words], list[str]] = defaultdict(list)
        self._named = {k: frozenset(tokens(x.name)) for k, x in ingredients.items()}
        for name, keys in asked.items():
            self._add(tokens(name), keys)
        for each in ingredients.values():
            self._add_names(each)
        self._add_labels()
        self._by_word = self._filed()

    def read(self, text: str) -> Words:
        """Return the words of a name, with short forms written out."""
        words = tokens(text)
        found: list[str] = []
        at = 0
        while at < len(words):
            for length in range(min(self._longest, len(words) - at), 0, -1):
                longer = self._same.get(words[at : at + length])
                if longer is not None:
                    found += longer
                    at += length
                    break
            else:
                found.append(words[at])
                at += 1
        return tuple(found)

    @cached_property
    def vocabulary(self) -> frozenset[str]:
        """Every word of every spelling."""
        return frozenset(word for words in self._spellings for word in words)

    def blend(self, text: str) -> Words:
        """Return the ingredients whose label names just these parts, in any order."""
        parts = pieces(text)
        return tuple(self._blends.get(frozenset(parts), ())) if len(parts) > 1 else ()

    def find(self, words: Words) -> Words:
        """Return the ingredient that words spell, several if they leave it open."""
        if not words:
            return ()
        exact = self._spellings.get(words) or self._joined.get("".join(words))
        if exact is not None:
            return exact.keys
        best: Words = ()
        score = (0, 0)
        counted = Counter(words)
        for spelling in self._within(counted):
            mine = self._score(spelling, counted)
            keys = self._agreeing(spelling, counted)
            if mine > score and keys:
                best, score = keys, mine
            elif mine == score and mine > (0, 0):
                best = tuple(dict.fromkeys((*best, *keys)))
        if best:
            return best
        return self._parted(words) or self._ground(words)

    def _parted(self, words: Words) -> Words:
        """Return what words spell when parted otherwise: "grape seed" is grapeseed."""
        bare = without_goods(words)
        spelling = self._joined.get("".join(bare))
        if spelling is None:
            return ()
        rest = Counter(words) - Counter(bare)
        told = all(self._passed_over(word, spelling) for word in rest)
        return self._agreeing(spelling, rest) if told else ()

    def _agreeing(self, spelling: Spelling, counted: Mapping[str, int]) -> Words:
        """Return what is spelt and no word contradicts, or the grade that words tell.

        "Unrefined shea" is not the refined butter that "shea" alone stands for.
        """
        rest = {word for word in counted if word not in spelling.counted}
        agreeing = [key for key in spelling.keys if not self._against(rest, key)]
        if not agreeing:
            others = (k for key in spelling.keys for k in self._grades(key))
            agreeing = [key for key in others if not self._against(rest, key)]
        return tuple(dict.fromkeys(agreeing))

    def _against(self, words: Collection[str], key: str) -> bool:
        """Whether words contradict the grade in an ingredient's name."""
        named = self._named[key]
        return any(
            (one & named and other & set(words)) or (other & named and one & set(words))
            for one, other in _OPPOSED
        )

    def _grades(self, key: str) -> Iterator[str]:
        """Yield the ingredients that differ from one in the grade alone."""
        mine = self._named[key] - _GRADED
        for other, named in self._named.items():
            if other != key and named - _GRADED == mine:
                yield other

    def _ground(self, words: Words) -> Words:
        """Return what the powder of ground or crushed things, for scrubbing, is."""
        if not _GROUND & set(words) or "powder" in words:
            return ()
        bare = tuple(word for word in words if word not in _GROUND)
        return self.find((*bare, "powder"))

    def nearly(self, words: Words, known: frozenset[str]) -> Words:
        """Return the ingredient that is spelt beside words that mean nothing here.

        At least two words spell it, the last one among them: "volcanic pumice powder".
        """
        counted = Counter(words)
        unknown = {word for word in counted if word not in known}
        found: dict[Words, int] = {}
        for spelling in self._within(counted):
            if spelling.category == "scent":  # lemon balm is not lemon
                continue
            enough = len(spelling.words) > 1 and words[-1] in spelling.counted
            others = Counter(w for w in words if w not in unknown)
            keys = self._agreeing(spelling, counted)
            if enough and len(keys) == 1 and self._score(spelling, others)[0]:
                found[keys] = max(len(spelling.words), found.get(keys, 0))
        best = max(found.values(), default=0)
        longest = [each for each, length in found.items() if length == best]
        return longest[0] if len(longest) == 1 and unknown else ()

    def fits(self, key: str, words: Words) -> bool:
        """Whether the numbers among words are none or some of an ingredient's name."""
        own = self._numbers(key)
        said = {word for word in words if word.isdigit()}
        return not own or not said or bool(own & said)

    def _numbers(self, key: str) -> set[str]:
        """Return the numbers that tell an ingredient from others of its name."""
        return {x for x in tokens(self._ingredients[key].name) if x.isdigit()}

    def _within(self, counted: Counter[str]) -> Iterator[Spelling]:
        """Yield the spellings all of whose words are there."""
        for word in counted:
            for spelling in self._by_word.get(word, ()):
                if all(counted[w] >= n for w, n in spelling.counted.items()):
                    yield spelling

    def _score(self, spelling: Spelling, counted: Counter[str]) -> tuple[int, int]:
        """Return how many words a spelling accounts for; (0, 0) if some are left."""
        own = self._own[spelling.keys[0]]
        rest = [w for w, n in counted.items() if n > spelling.counted.get(w, 0)]
        named = [word for word in rest if word in own]
        for word in rest:
            again = word in own and word not in _OTHER_GOODS
            if not again and not self._passed_over(word, spelling):
                return (0, 0)
        telling = [word for word in spelling.words if word not in _OF_SCENTS]
        return (len(telling), len(spelling.words) + len(named))

    def _passed_over(self, word: str, spelling: Spelling) -> bool:
        """Whether a word beside a spelling only describes the goods."""
        category = spelling.category
        if word.isdigit():
            return not any(self._numbers(key) for key in spelling.keys)
        allowed = _ONLY_WITH.get(word)
        if allowed is not None:
            return category in allowed
        if category == "scent":
            return _told(word) or word in _PARTS | _OF_SCENTS
        if word in _PARTS:
            return category in _FATS and "palm" not in spelling.words
        return _told(word)

    def _add(self, words: Words, keys: Iterable[str]) -> None:
        if not words or words in self._spellings:
            return
        found = tuple(keys)
        category = self._ingredients[found[0]].category
        spelling = Spelling(words, found, category, Counter(words))
        self._spellings[words] = spelling
        self._joined.setdefault("".join(words), spelling)

    def _add_names(self, each: Ingredient) -> None:
        names = (each.name, *each.aliases)
        for name in names:
            self._add(tokens(name), (each.key,))
            self._add(self.read(name), (each.key,))
        told = (*names, each.inci or "")
        self._own[each.key] = frozenset(w for name in told for w in self.read(name))
        labels = [re.sub(r"\([^)]*\)", _and_only, each.inci or ""), each.inci or ""]
        for name in (*labels, *names):
            parts = pieces(name)
            keys = self._blends[frozenset(parts)]
            if len(parts) > 1 and each.key not in keys:
                keys.append(each.key)

    def _add_labels(self) -> None:
        """Add INCI names with and without brackets and parts of the plant."""
        whole: dict[Words, list[str]] = defaultdict(list)
        short: dict[Words, dict[str, Words]] = defaultdict(dict)
        for each in self._ingredients.values():
            if not each.inci or "(and)" in each.inci:
                continue
            bare = tokens(re.sub(r"\([^)]*\)", " ", each.inci))
            for words in dict.fromkeys((bare, tokens(each.inci))):
                whole[words].append(each.key)
            if each.category in {*_FATS, "scent", "wax"} and "palm" not in bare:
                left = tuple(word for word in bare if word not in _PARTS)
                short[left][each.key] = bare
        for words, keys in whole.items():
            self._add(words, keys)
        for words, found in short.items():
            if len(set(found.values())) == 1 and len(words) > 2:
                self._add(words, found)

    def _filed(self) -> dict[str, list[Spelling]]:
        """Return the spellings by their rarest word."""
        often = Counter(word for words in self._spellings for word in set(words))
        filed: dict[str, list[Spelling]] = defaultdict(list)
        for words, spelling in self._spellings.items():
            filed[min(words, key=often.__getitem__)].append(spelling)
        return filed


def without_goods(words: Words) -> Words:
    """Return words without those that describe the goods, and without numbers."""
    return tuple(
        word
        for word in words
        if not _told(word) and word not in _CUT and not word.isdigit()
    )


def cut_up(words: Words) -> bool:
    """Whether words tell of something dried, ground or cut: no oil is."""
    return not _CUT.isdisjoint(words)


def _told(word: str) -> bool:
    """Whether a word tells of the goods; so do letters, but for that of vitamin E."""
    return word in _TOLD_OF_GOODS or (len(word) == 1 and word != "e")


def _and_only(found: re.Match[str]) -> str:
    return found[0] if found[0] == "(and)" else " "
