"""What of an amount is left over once its numbers and units are taken."""

from __future__ import annotations

import re

__all__ = ["NUMBER_WORDS", "left_over"]

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
