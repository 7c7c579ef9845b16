"""Kinds of product: where it goes, who uses it, and whether it stays on.

Rows of law, habit and caution say for which of these kinds they hold.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from functools import cache, lru_cache

from msgspec import Struct

__all__ = [
    "BABY",
    "BATH",
    "BODY",
    "CHILD",
    "DEODORANT",
    "EYE",
    "FACE",
    "HAIR",
    "HAND_FOOT",
    "KINDS",
    "LIP",
    "NAMES",
    "RINSED_BODY",
    "RINSED_FACE",
    "ProductKind",
    "for_feet",
    "holds_for",
    "kind_of",
    "kinds_of",
    "kinds_told",
]

LIP = "lip"
FACE = "face"
EYE = "eye area"
BODY = "body leave-on"
HAND_FOOT = "hand and foot"
DEODORANT = "deodorant"
BABY = "baby under 3"
CHILD = "child 3 to 6"
HAIR = "hair"
RINSED_BODY = "rinse-off body"
RINSED_FACE = "rinse-off face"
BATH = "bath"


class ProductKind(Struct, frozen=True):
    """A kind of product; ``use`` is None where both are usual.

    ``words`` are those that tell it in a product's name, as whole words; a word
    ending in * may go on.
    """

    name: str
    use: str | None
    words: tuple[str, ...]


# Whom it is for, then where it goes, the more special before the more general.
KINDS = (
    ProductKind(BABY, None, ("baby*", "babies", "infant*", "newborn*", "toddler*",
                             "nappy", "nappies", "diaper*")),
    ProductKind(CHILD, None, ("child*", "kid", "kids*")),
    ProductKind(LIP, "leave-on", ("lip", "lips", "lipstick*", "lipbalm*", "lippen*",
                                  "chap*")),
    ProductKind(EYE, "leave-on", ("eye*", "lash*", "brow*", "mascara*")),
    ProductKind(DEODORANT, "leave-on", ("deo", "deodorant*", "antiperspirant*",
                                        "underarm*", "armpit*")),
    ProductKind(HAIR, None, ("hair*", "shampoo*", "conditioner*", "scalp", "beard*",
                             "pomade*", "moustache*")),
    ProductKind(BATH, "rinse-off", ("bath*", "tub")),
    ProductKind(RINSED_FACE, "rinse-off", ("cleanser*", "cleansing", "remover*")),
    ProductKind(FACE, "leave-on", ("face*", "facial*", "make-up", "makeup")),
    ProductKind(HAND_FOOT, None, ("hand",
            "hands", "foot", "feet", "heel*", "nail*",
                                  "cuticle*", "elbow*", "knee*")),
    ProductKind(RINSED_BODY, "rinse-off", ("scrub*", "soap*", "wash*", "shower*",
                                           "polish*", "exfoliat*")),
    ProductKind(BODY, "leave-on", ("body", "massage*", "lotion*", "balm*", "salve*",
                                   "ointment*", "butter*", "cream*", "oil",
                                   "perfume*")),
)  # fmt: skip
NAMES = tuple(kind.name for kind in KINDS)
_AGES = (BABY, CHILD)
_RINSED = {FACE: RINSED_FACE, BODY: RINSED_BODY}
_STAYING = {rinsed: stays for stays, rinsed in _RINSED.items()}


@cache
def _pattern(words: tuple[str, ...]) -> re.Pattern[str]:
    spelt = (
        re.escape(word.removesuffix("*")) + (r"\w*" if word.endswith("*") else "")
        for word in words
    )
    return re.compile(rf"\b(?:{'|'.join(spelt)})\b", re.IGNORECASE)


_WORDS = {kind.name: kind.words for kind in KINDS}
_FEET = ("foot*", "feet", "heel*", "sole", "soles", "toe*")


def kinds_told(product: str) -> tuple[str, ...]:
    """Return the kinds that a product's name tells: whom it is for, where it goes.

    A kind's own name, as in "hand and foot: heel stick", goes before other words.

    >>> kinds_told("Baby bottom balm"), kinds_told("lip balm"), kinds_told("bar")
    (('baby under 3', 'body leave-on'), ('lip',), ())
    >>> kinds_told("rinse-off body: foot scrub")
    ('rinse-off body',)
    """
    if not product:
        return ()

    small = product.casefold()

    def tells(words: tuple[str, ...]) -> bool:
        if not any(word.removesuffix("*") in small for word in words):
            return False  # to make a pattern takes longer than to look for it
        return _pattern(words).search(product) is not None

    ages = [name for name in _AGES if tells(_WORDS[name])]
    places = [name for name in NAMES if name not in _AGES]
    named = [name for name in places if tells((name,))]
    # "rinse-off face" holds the word of "face" too: the longer name is meant.
    named = [n for n in named if not any(n != m and n in m for m in named)]
    place = named or [n for n in places if tells(_WORDS[n])]
    return (*ages[:1], *place[:1])


@lru_cache(maxsize=256)
def kinds_of(product: str | None, use: str) -> tuple[str, ...]:
    """Return the kinds of a product that is leave-on or rinse-off.

    Where its name does not tell where it goes, the body is meant. What is rinsed
    off hands or feet is a rinse-off body product as well.

    >>> kinds_of("foot scrub bar", "rinse-off")
    ('hand and foot', 'rinse-off body')
    >>> kinds_of(None, "leave-on"), kinds_of("face scrub", "rinse-off")
    (('body leave-on',), ('rinse-off face',))
    """
    return tuple(dict.fromkeys(_kinds(kinds_told(product or ""), use)))


def _kinds(told: tuple[str, ...], use: str) -> Iterator[str]:
    rinsed = use == "rinse-off"
    yield from (kind for kind in told if kind in _AGES)
    place = next((kind for kind in told if kind not in _AGES), BODY)
    yield (_RINSED if rinsed else _STAYING).get(place, place)
    if rinsed and place == HAND_FOOT:
        yield RINSED_BODY


def kind_of(product: str) -> ProductKind | None:
    """Return where a product goes by its name, or None where it does not tell.

    >>> found = kind_of("tinted lip balm")
    >>> (found.name, found.use) if found else None
    ('lip', 'leave-on')
    >>> [kind_of(each).name for each in ("Lippenbalsam", "balm for chapped skin")]
    ['lip', 'lip']
    """
    place = next((kind for kind in kinds_told(product) if kind not in _AGES), None)
    return next((kind for kind in KINDS if kind.name == place), None)


def for_feet(product: str) -> bool:
    """Return whether a product's name tells that it goes on feet, and so on floors.

    >>> for_feet("cracked heel balm"), for_feet("hand balm"), for_feet("feet")
    (True, False, True)
    """
    return _pattern(_FEET).search(product) is not None


def holds_for(
    kinds: Iterable[str], of_row: Iterable[str], but: Iterable[str] = ()
) -> bool:
    """Return whether a row holds for a product of some kinds.

    ``of_row`` empty means for every kind, ``but`` the kinds it does not hold for.

    >>> holds_for(("lip",), ()), holds_for(("lip",), ("face",))
    (True, False)
    >>> holds_for(("lip",), (), but=("lip",))
    False
    """
    own, meant, left = set(kinds), set(of_row), set(but)
    return not own & left and (not meant or bool(own & meant))
