"""What the amount and unit cells of a recipe say."""

from __future__ import annotations

import re
from functools import lru_cache

from msgspec import Struct, field
from msgspec.structs import replace

from optimiser.domain.recipe import Amount, KitchenMeasure, Span
from optimiser.reading.recipes.numbers import (
    NUMBER,
    UNIT,
    plain_fractions,
    to_value,
    unit_of,
)
from optimiser.reading.recipes.phrases import asides, in_figures, multiplied, rest

__all__ = ["NUMBER_WORDS", "amount_and_name", "left_over", "read_amount"]

GREATEST = 1e6  # of any unit: past it a cell is a slip, not a recipe
ABOUT = 0.1  # "about" is taken as give or take a tenth (common practice)

_ABOUT = r"\babout\b|\bapprox(?:imately)?\b\.?|\broughly\b|\bca\b\.?|~"
_TOKEN = re.compile(
    rf"(?P<number>{NUMBER})|(?P<about>{_ABOUT})|(?P<unit>{UNIT})|(?P<mark>[-()|;+])",
    re.IGNORECASE,
)
_COMES = re.compile(r"[^()|;]*\d")  # a figure that "about" may stand before
_STROKE = re.compile(r"(?<=[A-Za-z%.)])\s*/\s*(?=[\d.~]|about|approx)", re.IGNORECASE)
_ON_TOP = re.compile(r"on\s+top(?:\s+of(?:\s+the)?\s+\w+)?", re.IGNORECASE)
_OF_BASE = re.compile(r"of\s+(?:the\s+)?base\b", re.IGNORECASE)
_OF_ALL = re.compile(
    r"of\s+(?:the\s+)?(?:finished\s+product|product|total(?:\s+weight)?|whole|batch)\b",
    re.IGNORECASE,
)
_PER = re.compile(r"\bper\s+(?!cent\b)(?P<rest>.+)$", re.IGNORECASE)
_HALF = re.compile(
    r"half\s+(?:of\s+)?the\s+(?:total\s+)?weight.*|half\s+the\s+total.*", re.IGNORECASE
)
_UP_TO = re.compile(r"up\s+to|at\s+most|\bmax(?:imum)?\b", re.IGNORECASE)
_TIMES = re.compile(r"\d\s*[x\u00d7*]\s*\d", re.IGNORECASE)
# How full a spoon or cup is; weighing tells how much more or less that is.
_FILLED = {
    **dict.fromkeys(("heaped", "heaping", "heap", "mounded"), "heaped"),
    **dict.fromkeys(("rounded", "rounding"), "rounded"),
    **dict.fromkeys(("generous", "good", "big", "large"), "generous"),
    **dict.fromkeys(("scant", "scanty", "barely"), "scant"),
}
_LEVEL = ("level", "leveled", "levelled", "flat", "struck")
_HOW_FULL = "|".join((*_FILLED, *_LEVEL))
_NAMED = re.compile(
    rf"(?P<amount>(?:about\s+|up\s+to\s+|~\s*)?(?:{NUMBER})"
    rf"(?:\s*(?:-|to)\s*(?:{NUMBER}))?\s*(?:(?:{_HOW_FULL})\s+)?(?P<unit>{UNIT}))"
    r"\s+(?:of\s+)?(?P<name>\S.*)",
    re.IGNORECASE,
)
_ATTACHED = re.compile(r"[^\W\d_](?=\d)|(?<=\d)(?P<word>[^\W\d_]+)")
_IMPROPER = re.compile(r"\d+(?:\s+|-|\s*\+\s*)(\d+)/(\d+)")
_NEGATIVE = re.compile(r"^\s*-\s*[\d.]")
_PACK = re.compile(
    r"^\s*1\s*-\s*\d[\d./\s]*\s*[A-Za-z]+\.?\s+(?:block|bag|bar|pack|packet|tin|jar|stick)",
    re.IGNORECASE,
)
# "1 tsp" is one of it, "an ounce" too; "a few drops" is no number.
_WORDS = {"a": 1.0, "an": 1.0, "one": 1.0, "two": 2.0, "three": 3.0, "half": 0.5}
_FEW = {"few", "some", "several", "little", "bit", "splash"}
_SILENT = {"of", "the", "total", "each", *_LEVEL, *_FILLED}


class _Parsed(Struct):
    """What has been read so far of one cell."""

    measures: list[KitchenMeasure] = field(default_factory=list)
    numbers: list[tuple[float, str]] = field(default_factory=list)
    about: bool = False  # the next figure is approximate
    joined: bool = False  # a dash or "to" stands after a number without unit
    ranged: bool = False  # or after a measure: "1 tsp to 1 tbsp"
    added: bool = False  # "1 cup + 2 tbsp", "1 cup and 2 tbsp"
    remarks: list[str] = field(default_factory=list)
    left: list[str] = field(default_factory=list)
    apart: bool = False  # a word that is not read stands after a number
    doubt: bool = False  # something of it was taken for no part of an amount


@lru_cache(maxsize=20_000)
def read_amount(amount: str, unit: str) -> Amount:
    """Return what an amount cell and a unit cell say together.

    Raises
    ------
    ValueError
        With what is wrong, if there is a number in it that cannot be used.

    >>> read_amount("2 tbsp (20g)", "").measure("g").span.value
    20.0
    >>> read_amount("17-20", "%").measures[0].span
    Span(low=17.0, value=18.5, high=20.0)
    """
    text = plain_fractions(f"{amount} {unit}").strip()
    if _NEGATIVE.match(text):
        raise ValueError("is negative")
    unit_of_rest = rest(text)
    if unit_of_rest is not None:
        return _rest(unit_of_rest, text)
    if _TIMES.search(text):
        together = multiplied(text)
        if together is None:
            return Amount((), question=f"'{text}' may be several packs, or a slip")
        found = read_amount(together, "")
        return replace(found, remarks=(f"{text} read as {together}", *found.remarks))
    if _PACK.match(text):
        said = f"'{text}' may be one pack of that weight, or a range of weights"
        return Amount((), question=said)
    if _HALF.search(text):
        half = KitchenMeasure(Span.exactly(50.0), "%", text)
        return Amount((half,), "product", remarks=("half of the finished product",))
    plain, beside = asides(text)
    of, mixture, plain = _share_of(in_figures(plain))
    found = _amount(text, of, mixture, plain)
    return replace(found, remarks=(*beside, *found.remarks)) if beside else found


def _rest(unit: str, said: str) -> Amount:
    """Return the amount of what is left to a hundred, or to so many grams."""
    whole = KitchenMeasure(Span.exactly(100.0), "g" if unit[:1] == "g" else "%", said)
    return Amount((), "rest", whole, unknown="it is what is left to 100")


def _share_of(text: str) -> tuple[str, _Parsed | None, str]:
    """Return what the amount is a share of, the mixture it goes into, and the rest."""
    if found := _PER.search(text):
        mixture = _measures(found["rest"])
        if mixture.measures or mixture.doubt:
            return "on top", mixture, text[: found.start()]
    for pattern, of in ((_ON_TOP, "on top"), (_OF_BASE, "base"), (_OF_ALL, "product")):
        if found := pattern.search(text):
            return of, None, text[: found.start()] + " " + text[found.end() :]
    return "recipe", None, text


def _amount(whole: str, of: str, mixture: _Parsed | None, text: str) -> Amount:
    """Return the amount of a text without what it is a share of."""
    upper = _UP_TO.search(text)
    text = _STROKE.sub(" | ", _UP_TO.sub(" ", text))
    words = set(re.findall(r"[a-z]+", text.casefold()))
    if words & _FEW and not re.search(r"\d", text):
        return Amount((), of, unknown=f"'{text.strip()}' is no amount", sure="unknown")
    read = _measures(text)
    parts = [read] if mixture is None else [read, mixture]
    if any(each.doubt for each in parts):
        return Amount((), of, question=f"'{whole}' cannot be read as one amount")
    if not read.measures:
        shown = text.strip()
        reason = f"'{shown}' is no amount" if shown else "no amount is given"
        return Amount((), of, unknown=reason, sure="unknown")
    if read.left and all(each.unit == "" for each in read.measures):
        reason = f"the size of '{' '.join(read.left)}' is not known"
        return Amount((), of, unknown=reason, sure="unknown")
    about = read.measures[0].rough
    measures = [_widened(each, bool(upper), False) for each in read.measures]
    measures[0] = _widened(read.measures[0], bool(upper), about)
    remarks = list(read.remarks)
    filled = [each for each in _FILLED if each in words]
    if filled:
        full = _FILLED[filled[0]]
        measures = [replace(x, filled=full) if x.household else x for x in measures]
        if not any(each.filled for each in measures):
            read.left += filled
    if upper:
        remarks.append("'up to' read as its top, down to none")
    if about:
        remarks.append("'about' taken as give or take a tenth")
    remarks += [f"{each.said} is approximate" for each in measures[1:] if each.rough]
    if read.left:
        remarks.append(f"not read: {' '.join(read.left)}")
    per = None if mixture is None else mixture.measures[0]
    none = any(each.span.high == 0.0 for part in parts for each in part.measures)
    question = f"'{whole}' says that there is none of it" if none else None
    if per is not None and per.span.low == 0.0:
        return Amount((), of, question=f"'{whole}' is a share of nothing")
    return Amount(tuple(measures), of, per, None, question, tuple(remarks))


def _widened(measure: KitchenMeasure, upper: bool, about: bool) -> KitchenMeasure:
    span = measure.span
    if about:
        span = Span(span.low * (1 - ABOUT), span.value, span.high * (1 + ABOUT))
    if upper:
        span = Span(0.0, span.high, span.high)
    return replace(measure, span=span, rough=measure.rough and not about)


def _measures(text: str) -> _Parsed:
    """Return the measures of a text, numbers and units taken from left to right."""
    read = _Parsed()
    taken: list[tuple[int, int]] = []
    for found in _TOKEN.finditer(text):
        taken.append(found.span())
        if found["number"]:
            value, assumed = to_value(found["number"])
            if not value <= GREATEST:
                raise ValueError(f"is more than {GREATEST:g}")
            read.remarks += [assumed] if assumed else []
            read.doubt |= _improper(found["number"])
            _take_number(read, value, found["number"])
        elif found["about"]:
            _take_about(read, _COMES.match(text, found.end()) is not None)
        elif found["unit"]:
            _take_word(read, found["unit"])
        elif found["mark"] == "-":
            _join(read)
        elif found["mark"] == "+":
            _add(read)
        else:
            _finish(read, "")
            read.about = read.about and found["mark"] == "|"
    _finish(read, "")
    units = [each.unit for each in read.measures]
    twice = any(units.count(unit) > 1 for unit in ("%", "part"))
    read.doubt |= read.ranged or read.added or twice or ("" in units and units != [""])
    read.doubt |= _attached(text)
    if read.measures or any(each.isnumeric() for each in text):
        # A sign after "about" begins a number, as it does after a bracket.
        signs = re.sub(_ABOUT, lambda m: "(" * len(m[0]), text, flags=re.IGNORECASE)
        read.doubt |= left_over(signs, taken)
    return read


def _improper(number: str) -> bool:
    """Whether a whole is followed by what is no proper fraction: "10-5/2"."""
    found = _IMPROPER.fullmatch(number)
    return found is not None and float(found[1]) >= float(found[2])


def _attached(text: str) -> bool:
    """Whether a letter that is no unit touches a digit: "1e9", "e5"."""
    return any(
        found["word"] is None or not _is_word(found["word"])
        for found in _ATTACHED.finditer(text)
    )


def _is_word(word: str) -> bool:
    return unit_of(word) is not None or word.casefold() in {"to", "or", "fl", "per"}


def _take_about(read: _Parsed, comes: bool) -> None:
    """Take "about" for the figure that comes, or else for the last one."""
    if comes or read.numbers or not read.measures:
        read.about = True
    else:
        read.measures[-1] = replace(read.measures[-1], rough=True)


def _take_number(read: _Parsed, value: float, said: str) -> None:
    if read.numbers and not read.joined:
        _finish(read, "")
    read.numbers.append((value, said))
    read.doubt |= len(read.numbers) > 2
    read.joined = read.apart = False


def _take_word(read: _Parsed, word: str) -> None:
    """Take a word: a unit, a number in letters, "to" or "or", or one not read."""
    low = word.casefold().rstrip(".")
    known = unit_of(word)
    if low == "to" or (low == "or" and read.numbers):
        _join(read)
    elif low in {"plus", "and"}:
        _add(read)
    elif low == "or" or (low in {"a", "an"} and read.numbers):
        return  # "half a cup"
    elif known is not None and (read.numbers or read.measures):
        _take_unit(read, word, known)
    elif low in _WORDS:
        _take_number(read, _WORDS[low], low)
    elif low not in _SILENT:
        read.left.append(word)
        read.doubt |= low in NUMBER_WORDS
        read.apart = bool(read.numbers)
        read.ranged = False  # "5 g - melted"


def _take_unit(read: _Parsed, word: str, known: tuple[str, float, bool]) -> None:
    """Take a unit, which may stand after a bracket: "10 (melted) g"."""
    only = read.measures[0] if len(read.measures) == 1 else None
    if not read.numbers and only is not None and only.unit == "" and not read.added:
        unit, size, household = known
        said = f"{only.said} {word}"
        read.measures = [
            replace(
                only,
                span=only.span.times(size),
                unit=unit,
                said=said,
                household=household,
            )
        ]
    else:
        _finish(read, word)


def _join(read: _Parsed) -> None:
    """Take a dash or "to": what follows closes a range."""
    read.doubt |= read.joined or read.ranged or read.apart
    read.joined = bool(read.numbers)
    read.ranged = not read.numbers and bool(read.measures)


def _add(read: _Parsed) -> None:
    """Take a plus or "and": what follows is added."""
    _finish(read, "")
    read.added = bool(read.measures)


def _finish(read: _Parsed, word: str) -> None:
    """Close the numbers read so far with a unit; "" where none stood."""
    numbers, read.numbers = read.numbers, []
    if not numbers:
        return
    read.doubt |= read.joined  # a range without its end: "5-"
    read.joined = read.apart = False
    unit, size, household = unit_of(word) or ("", 1.0, False)
    values = sorted(value * size for value, _ in numbers)
    said = " to ".join(text for _, text in numbers) + (f" {word}" if word else "")
    span = Span(values[0], (values[0] + values[-1]) / 2, values[-1])
    before = read.measures[-1] if read.measures else None
    if before is not None and before.unit != unit:
        read.doubt |= read.ranged or read.added  # "1 cup + 2 g", "1 tsp - 5 g"
    elif read.ranged and before is not None:
        ends = sorted((before.span.low, span.high))
        span = Span(ends[0], sum(ends) / 2, ends[1])
        said = f"{before.said} to {said}"
        read.measures.pop()
    elif before is not None and _adds(read, before, word):
        low, high = before.span.low + span.low, before.span.high + span.high
        span = Span(low, before.span.value + span.value, high)
        said = f"{before.said} and {said}"
        read.measures.pop()
    read.ranged = read.added = False
    read.measures.append(KitchenMeasure(span, unit, said, household, read.about))


def _adds(read: _Parsed, before: KitchenMeasure, word: str) -> bool:
    """Whether a measure adds to the one before it, as ounces do to pounds."""
    pounds = before.said.casefold().rstrip("s.").endswith(("lb", "pound"))
    return read.added or (pounds and word.casefold().startswith(("oz", "ounce")))


def amount_and_name(text: str) -> tuple[str, str] | None:
    """Return the amount and the name of a line that holds both, or None.

    >>> amount_and_name("2 1/2 cups brown sugar")
    ('2 1/2 cups', 'brown sugar')
    >>> amount_and_name("1 heaped tbsp of sugar")
    ('1 heaped tbsp', 'sugar')
    >>> amount_and_name("7 oils")
    """
    found = _NAMED.fullmatch(in_figures(plain_fractions(text)).strip())
    if found is None or unit_of(found["unit"]) is None:
        return None
    return found["amount"], found["name"]


# Numbers in letters that are not read: a line with one waits for an answer.
# fmt: off
NUMBER_WORDS = {
    "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve",
    "fifteen", "sixteen", "twenty", "thirty", "forty", "fifty", "sixty", "seventy",
    "eighty", "ninety", "hundred", "hundreds", "thousand", "thousands", "million",
    "dozen", "dozens", "pair", "couple", "score", "quarter", "quarters", "third",
    "thirds", "fourth", "fifth", "sixth", "eighth", "eighths", "tenth", "tenths",
    "halves", "double", "twice", "minus",
}
# fmt: on
# What may stand between numbers and words without changing an amount.
_HARMLESS = re.compile(
    r"[\s()\[\],;|!]+|(?<=[^\W\d_])['\u2019](?=[^\W\d_])|(?<=[^\W\d_]):"
)
_SIGNED = re.compile(r"(?:^|[-+(\[|;,:])\s*[-+]\s*\.?\d")


def left_over(text: str, taken: list[tuple[int, int]]) -> bool:
    """Whether a digit, a dot, a sign or an operator stands outside what was taken.

    Parameters
    ----------
    text : str
        With fractions and dashes in plain characters.
    taken : list of (start, end)
        Where its numbers, units, words and joining marks stand, in order.

    >>> left_over("5 (g)", [(0, 1), (3, 4)]), left_over("5_0", [(0, 1), (2, 3)])
    (False, True)
    """
    if _SIGNED.search(text):
        return True
    rest = list(text)
    for match in _HARMLESS.finditer(text):
        rest[match.start() : match.end()] = " " * (match.end() - match.start())
    for start, end in taken:
        rest[start:end] = " " * (end - start)
    return bool("".join(rest).strip())
