"""What recipes say in words about an amount, in figures or as a remark beside it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache

from optimiser.domain.recipe import Written, WrittenLine
from optimiser.reading.recipes.numbers import NUMBER, UNIT, to_value, unit_of

__all__ = [
    "ambiguous",
    "asides",
    "in_doubt",
    "in_figures",
    "is_total",
    "multiplied",
    "rest",
]

_COUNTS = {"a": "1", "an": "1", "one": "1", "two": "2", "three": "3"}
_BELOW = {"hal": "2", "qua": "4", "thi": "3"}
_COUNT = "a|an|one|two|three"
_OF_ONE = r"\b(?:\s+of)?(?:\s+an?\b)?"
_AND_PART = re.compile(
    rf"\b(?P<whole>\d+|{_COUNT})\s+and\s+(?:an?\s+|one\s+)?"
    rf"(?P<part>half|quarter|third){_OF_ONE}",
    re.IGNORECASE,
)
_PART = re.compile(
    rf"(?<![\d/])(?<!\d\s)\b(?:(?P<count>{_COUNT})[\s-]+)?"
    rf"(?P<part>half|halves|quarters?|thirds?){_OF_ONE}",
    re.IGNORECASE,
)
_TIMES = re.compile(
    rf"(?P<count>\d+)\s*[x\u00d7*]\s*(?P<number>{NUMBER})\s*(?P<unit>{UNIT})",
    re.IGNORECASE,
)
_REST = re.compile(
    r"(?:(?:q\s?\.?\s?s\b\.?|ad|make\s+up|top\s+up)(?:\s+(?:to|ad|make|up))*"
    r"|to|to\s+make)\s*100\s*(?P<unit>%|g|grams?)?\s*(?:total)?"
    r"|(?:the\s+)?(?:balance|remainder|rest)(?:\s+to\s+100)?\s*%?",
    re.IGNORECASE,
)
_ASIDE = re.compile(
    r"(?:\(|;|,\s)\s*(?P<aside>[^();]*\b(?:for\s+(?:an?|extra|more|less)\b|if\b)[^();]*)"
    r"\)?|(?P<bare>\bhalf\s+for\b.*)",
    re.IGNORECASE,
)
_OPTIONAL = re.compile(r"[(\[,;]?\s*\boptional(?:ly)?\b\s*[)\]]?", re.IGNORECASE)
_TOTAL = re.compile(
    r"(?:grand\s+|sub[\s-]?)?(?:total|sum)(?:\s+(?:weight|amount|percent|batch|mass))?"
    r"\s*[:=]?",
    re.IGNORECASE,
)
_DECIMAL_COMMA = re.compile(r"(?<![\d.,])(?:\d+,(?:\d{1,2}|\d{4,})|0,\d+)(?!\d)")
_THOUSANDS = re.compile(r"(?<![\d.,])[1-9]\d{0,2}[.,]\d{3}(?![\d.,])")


def in_figures(text: str) -> str:
    """Return a text whose fractions in letters are in figures.

    >>> in_figures("three quarters of a cup"), in_figures("1 and a half cups")
    ('3/4 cup', '1 1/2 cups')
    """
    text = _AND_PART.sub(
        lambda m: f"{_number(m['whole'])} 1/{_BELOW[m['part'][:3].casefold()]}", text
    )
    return _PART.sub(
        lambda m: f"{_number(m['count'] or 'a')}/{_BELOW[m['part'][:3].casefold()]}",
        text,
    )


def _number(word: str) -> str:
    return _COUNTS.get(word.casefold(), word)


def multiplied(text: str) -> str | None:
    """Return what a count of packs weighs together, or None if that is not told.

    >>> multiplied("2 x 100 g"), multiplied("2 x 100")
    ('200 g', None)
    """
    found = _TIMES.fullmatch(text.strip())
    if found is None or unit_of(found["unit"]) is None:
        return None
    return f"{int(found['count']) * to_value(found['number'])[0]:.10g} {found['unit']}"


def rest(text: str) -> str | None:
    """Return the unit, or "", of what is left to 100; None if it is no such amount.

    >>> rest("q.s. to 100 %"), rest("to 100"), rest("up to 100")
    ('%', '', None)
    """
    found = _REST.fullmatch(text.strip())
    return None if found is None else (found["unit"] or "")


def asides(text: str) -> tuple[str, tuple[str, ...]]:
    """Return an amount without what is said beside it, and that as remarks.

    >>> asides("20 g (half for a softer stick)")
    ('20 g', ('not counted: half for a softer stick',))
    >>> asides("10 g (optional)")
    ('10 g', ('optional; counted',))
    """
    said: list[str] = []
    plain = _OPTIONAL.sub(" ", text)
    if plain != text:
        said.append("optional; counted")
    found = _ASIDE.search(plain)
    if found is not None and re.search(r"\d", plain[: found.start()]):
        said.append(f"not counted: {(found['aside'] or found['bare']).strip()}")
        plain = f"{plain[: found.start()]} {plain[found.end() :]}"
    return (plain.strip() if said else text), tuple(said)


@lru_cache(maxsize=1 << 14)
def is_total(name: str) -> bool:
    """Whether a row is the sum of the others.

    >>> is_total("TOTAL"), is_total("Total weight:"), is_total("total body balm")
    (True, True, False)
    """
    return _TOTAL.fullmatch(name.strip()) is not None


def ambiguous(amounts: Sequence[str]) -> dict[str, str]:
    """Return the amounts of a recipe that may be thousands, each with both readings.

    Where decimals are written with a comma, the point or comma before three digits
    may part thousands.

    >>> ambiguous(["1.250 g", "250,0 g"])
    {'1.250 g': '1250 or 1.25'}
    >>> ambiguous(["1.250 g", "250.0 g"])
    {}
    """
    if not any("," in each and _DECIMAL_COMMA.search(each) for each in amounts):
        return {}
    found = {}
    for each in amounts:
        number = _THOUSANDS.search(each)
        if number is not None:
            whole, part = re.split("[.,]", number[0])
            small = f"{float(f'{whole}.{part}'):g}"
            found[each] = f"{whole}{part} or {small}"
    return found


def in_doubt(written: Written) -> list[tuple[WrittenLine, str]]:
    """Return the lines of a recipe whose number may be read in two ways, with both."""
    found = ambiguous([each.amount for each in written.lines])
    return [
        (line, found[line.amount]) for line in written.lines if line.amount in found
    ]
