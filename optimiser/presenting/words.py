"""Words and numbers as a maker reads them: short, plain, and never false."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Iterable

from optimiser.domain.material import NONE_IN_IT, OF_ITS_OIL

__all__ = [
    "BARE",
    "beside",
    "cents",
    "clean",
    "decimals",
    "difference",
    "evidence_words",
    "exactly",
    "flag_words",
    "keys",
    "listed",
    "money",
    "plural",
    "short",
    "tidy",
    "unit_words",
]

# How well a figure is known, where its key would not say so to a reader.
_EVIDENCE = {
    "defined": "so by definition",
    "review": "from a review",
    "compilation": "from a compilation",
    "retrieved": "read in its source",
    "supplier": "a supplier's",
    "mixed": "of mixed sources",
    "memory": "recalled, not re-checked",
    "memory_low": "recalled, typical value only",
}
# Of allergens that nothing in the base brings.
NEW = "new against your base"
# The finer reading of allergen tables.
_FLAGS = {
    "botanical_nut_or_kernel_not_listed": "a kernel or botanical nut, on no list",
    "delisted_us_2025": "on the US list until January 2025",
    "no_nut_relation": "no relation to nuts",
    "unrelated": "no relation to it",
    "listed_tree_nut": "a listed tree nut",
    "by_its_name": "by its name, ask the supplier",
    "unknown": "not known, ask the supplier",
    "peanut": "a legume, listed by itself",
    "other_listed": "listed by itself",
    OF_ITS_OIL: "as its oil; ask for what is infused in it",
    NONE_IN_IT: "none in it, by a supplier's word or a measurement",
}

# Units that a number goes without.
BARE = frozenset({"", "1"})
# Below these a figure, and an amount of money, is what rounding left: nothing.
_DUST, _MONEY_DUST = 1e-9, 1e-6

# Control, format (reading order, zero width), surrogate and unassigned characters.
_UNPRINTABLE = {"Cc", "Cf", "Cs", "Co", "Cn"}


def clean(text: object) -> str:
    r"""Return text on one line, without characters that could steer a terminal.

    Text that comes from files is data: it may hold anything.

    >>> clean("shea\x1b[31m butter\n")
    'shea[31m butter'
    """
    spaced = " ".join(str(text).split())
    if spaced.isascii() and spaced.isprintable():
        return spaced
    return "".join(c for c in spaced if unicodedata.category(c) not in _UNPRINTABLE)


def decimals(number: float, places: int) -> str:
    """Return a number with a fixed count of decimals, never as ``-0``.

    >>> decimals(-0.001, 1)
    '0.0'
    """
    return f"{number:z.{places}f}"


def short(number: float, figures: int = 4) -> str:
    """Return a number in at most four figures, without trailing zeros or exponent.

    What is left by rounding is nothing.

    >>> short(36.498), short(40.0), short(1234567.0), short(0.00012), short(3e-12)
    ('36.5', '40', '1234567', '0.00012', '0')
    """
    if not math.isfinite(number):
        return "no limit"
    if abs(number) < _DUST:
        return "0"
    places = max(0, figures - 1 - math.floor(math.log10(abs(number))))
    text = f"{number:z.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def beside(number: float, other: float) -> str:
    """Return a number in four figures, or in as many as show how far from another.

    In four figures a limit may seem to lie on the other side of where it stands.

    >>> beside(36.5, 40.0), beside(1054.56, 1054.78), beside(0.0, 0.0)
    ('36.5', '1054.56', '0')
    """
    if not math.isfinite(number) or number == other:
        return short(number)
    figures, near = 4, abs(number - other) / 10.0
    while figures < 8 and abs(float(short(number, figures)) - number) > near:
        figures += 1
    return short(number, figures)


def exactly(number: float) -> float | None:
    """Return a number to ten significant figures; None if it has no end.

    >>> exactly(0.1 + 0.2), exactly(-0.0), exactly(math.inf)
    (0.3, 0.0, None)
    """
    return float(f"{number:.10g}") + 0.0 if math.isfinite(number) else None


def difference(now: float, was: float) -> float:
    """Return a difference of two percentages, without what is only left of sums.

    >>> difference(0.1 + 0.2, 0.3), difference(27.0, 26.5)
    (0.0, 0.5)
    """
    return round(now - was, 9) + 0.0


def cents(amount: float) -> int:
    """Return money in whole cents, half a cent away from zero.

    A sum of the same figures in another order may end a last digit apart; both
    come to the same cents.

    >>> cents(17.495), cents(-0.004), cents(0.0049999999999)
    (1750, 0, 1)
    """
    return int(math.copysign(math.floor(abs(amount) * 100 + 0.5 + 1e-7), amount))


def tidy(value: float) -> float:
    """Return a value, or zero for what is the solver's rounding.

    >>> tidy(2.4e-9), tidy(0.25)
    (0.0, 0.25)
    """
    return 0.0 if abs(value) < 1e-6 else value


def money(amount: float) -> str:
    """Return money to the cent, or to two figures where a cent would hide it.

    What is left by rounding is nothing.

    >>> money(9.8711), money(0.00213), money(0.0), money(-4.5e-13)
    ('9.87', '0.0021', '0.00', '0.00')
    """
    if abs(amount) < _MONEY_DUST:
        return "0.00"
    if abs(amount) >= 0.005:
        return decimals(cents(amount) / 100, 2)
    return decimals(amount, 1 - math.floor(math.log10(abs(amount)))).rstrip("0")


def unit_words(unit: str, before: str = " ") -> str:
    """Return a unit as it follows a number or a name; nothing where it has none.

    >>> unit_words("%"), unit_words("points", ", "), unit_words("1"), unit_words("")
    (' %', ', points', '', '')
    """
    return "" if unit in BARE else f"{before}{clean(unit)}"


def plural(count: int, noun: str, nouns: str | None = None) -> str:
    """Return a count and its noun.

    >>> plural(1, "rule"), plural(2, "rule")
    ('1 rule', '2 rules')
    """
    return f"{count} {noun if count == 1 else nouns or noun + 's'}"


def listed(names: Iterable[str], most: int | None = None) -> str:
    """Return names as one phrase; those past ``most`` are counted.

    >>> listed(["a", "b", "c"]), listed(["a", "b", "c"], most=2)
    ('a, b and c', 'a, b and 1 more')
    """
    all_names = [clean(name) for name in names]
    if most is not None and len(all_names) > most:
        return f"{', '.join(all_names[:most])} and {len(all_names) - most} more"
    if len(all_names) < 2:
        return "".join(all_names)
    return f"{', '.join(all_names[:-1])} and {all_names[-1]}"


def evidence_words(evidence: str) -> str:
    """Return how well a figure is known, in words.

    >>> evidence_words("memory_low"), evidence_words("measured")
    ('recalled, typical value only', 'measured')
    """
    return _EVIDENCE.get(evidence, evidence.replace("_", " "))


def flag_words(flag: str) -> str:
    """Return the finer reading of an allergen table, in words.

    >>> flag_words("delisted_us_2025"), flag_words("ask_me")
    ('on the US list until January 2025', 'ask me')
    """
    return _FLAGS.get(flag.strip().replace(" ", "_"), flag.replace("_", " "))


def keys(source: str | None) -> list[str]:
    """Return the keys of sources that stand in one cell.

    >>> keys("eu_1223_2009; supplier_sheet")
    ['eu_1223_2009', 'supplier_sheet']
    """
    parts = [] if source is None else source.split(";")
    return [part.strip() for part in parts if part.strip()]
