"""TOML files, with syntax errors told by line and what would fix them."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from optimiser.errors import Problem
from optimiser.reading.text import read_text

__all__ = ["parse_toml", "read_toml"]

_PLACE = r"\s*\(at (?:line (\d+), column \d+|end of document)\)$"
_COMMA = r"=\s*+([+-]?\d++),(\d+)"
# Nothing that one part has taken (++, *+) is given back to the part before it, so that
# each pattern looks at a sign a few times only, however long the line is.
_BARE_TEXT = r"=\s*+[^\W\d][\w -]*+\s*+[,}#]?\s*+$"
_BARE_KEY = r"^\s*+\[{0,2}\s*+[^\W\d]\w*+(?:\s++\w++)++\s*+(?:=|\]{1,2}\s*+$)"
_OPEN_QUOTE = (r"Illegal character '\n'", "Unterminated string")
_TWICE = ("Cannot overwrite", "Cannot declare", "Duplicate", "Cannot mutate")
_INLINE = r"Duplicate inline table key ['\"](.*)['\"]"
_PART = r"""(?:[\w-]++|"(?:[^"\\\n]|\\.)*+"|'[^'\n]*+')"""
_NAME = rf"{_PART}(?:[ \t]*+\.[ \t]*+{_PART})*+"
_KEY = rf"\s*+({_NAME})\s*+="
_HEADER = rf"\s*+(\[\[?\s*+{_NAME}\s*+\]\]?)"
_CURLY = "[\u2018\u2019\u201c\u201d\u201e\u00ab\u00bb]"
_UNIT = r"=\s*+([+-]?\d++(?:\.\d++)?)\s*+(%|[a-zA-Z]+)"
MOST_BYTES = 2_000_000
DEEPEST = 16  # a scenario needs four
_LEVELS = rf"(?:{_PART}[ \t]*+\.[ \t]*+){{{DEEPEST}}}"
_DOTTED, _DOTTED_INSIDE = rf"[ \t\[]*+{_LEVELS}", rf"[{{,][ \t]*+{_LEVELS}"


def read_toml(path: Path, shown: str, problems: list[Problem]) -> dict[str, Any] | None:
    """Return the content of a TOML file, or None after adding a problem.

    Parameters
    ----------
    path : Path
        File to read.
    shown : str
        Name of the file in messages.
    problems : list of Problem
        Gains one entry when the file cannot be read; nothing is raised.
    """
    text = read_text(path, shown, problems, most=MOST_BYTES)
    if text is None:
        return None
    return parse_toml(text, shown, problems)


def parse_toml(text: str, shown: str, problems: list[Problem]) -> dict[str, Any] | None:
    """Return the content of a TOML text, or None after adding a problem."""
    deep = Problem(
        "has too many levels in each other",
        shown,
        fix="write the tables and lists less deep",
    )
    if any(
        re.match(_DOTTED, line) or re.search(_DOTTED_INSIDE, line)
        for line in text.split("\n")
        if line.count(".") >= DEEPEST
    ):
        problems.append(deep)  # n levels would take the square of n bytes to read
        return None
    try:
        content = tomllib.loads(text)
        if not _is_deep(content):
            return content
        problems.append(deep)
    except tomllib.TOMLDecodeError as error:
        problems.append(_syntax(str(error), text, shown))
    except RecursionError:
        problems.append(deep)
    except ValueError as error:
        fix = "correct the number or date that is out of range"
        wrong = f"holds a value that cannot be read ({str(error).split(';')[0]})"
        problems.append(Problem(wrong, shown, fix=fix))
    return None


def _is_deep(content: dict[str, Any]) -> bool:
    """Whether tables and lists lie deeper in each other than any file needs."""
    level: list[Any] = [content]
    for _ in range(DEEPEST):
        level = [
            each
            for held in level
            for each in (held.values() if isinstance(held, dict) else held)
            if isinstance(each, (dict, list))
        ]
    return bool(level)


def _syntax(said: str, text: str, shown: str) -> Problem:
    """Return the problem of a syntax error, with its line and a fix."""
    place = re.search(_PLACE, said)
    words = re.sub(_PLACE, "", said)
    lines = text.splitlines() or [""]
    last = place is None or place[1] is None
    number = len(lines) if place is None or place[1] is None else int(place[1])
    line = lines[min(number, len(lines)) - 1]
    twice = _key_above(lines[:number]) if words.startswith(_TWICE) else None
    if found := re.fullmatch(_INLINE, words):
        twice = found[1], number
    if twice is not None:
        fix = "write each name and each [table] once in a file"
        wrong = f"in line {twice[1]} is written twice"
        return Problem(wrong, shown, found=twice[0], fix=fix)
    where = "the end of the file" if last else f"line {number}"
    wrong = f"{where} is not written as TOML ({words[:1].lower()}{words[1:]})"
    return Problem(wrong, shown, fix=_fix(words, line))


def _key_above(lines: list[str]) -> tuple[str, int] | None:
    """Return the name that the last of the lines gives, or one above it, and where.

    The value of a name may go over several lines, so that its end is found first.
    """
    for number in range(len(lines), 0, -1):
        found = re.match(_HEADER, lines[number - 1]) or re.match(
            _KEY, lines[number - 1]
        )
        if found is not None:
            return found[1].strip().strip("\"'")[:60], number
    return None


def _fix(words: str, line: str) -> str:
    """Return what would fix a line that is no TOML."""
    fix = "write one name = value a line, with text in quotes"
    if found := re.search(_COMMA, line):
        fix = f"write the decimal with a point, as in {found[1]}.{found[2]}"
    elif words.startswith(_TWICE):
        fix = "write each name and each [table] once in a file"
    elif re.search(_CURLY, line):
        fix = 'write straight quotes, as in "cocoa butter"'
    elif any(not each.isprintable() and each != "\t" for each in line):
        fix = "take the sign out that does not show, by writing the line anew"
    elif words in _OPEN_QUOTE:
        fix = "close the quote that this line opens"
    elif "\\" in words or "escape" in words.lower():
        fix = "write / instead of \\ in a path"
    elif re.search(_BARE_KEY, line):
        fix = 'put a name of several words in quotes, as in "cocoa butter" = 40'
    elif found := re.search(_UNIT, line):
        fix = f"write the number alone, as in {found[1]}, or all of it in quotes"
    elif re.search(_BARE_TEXT, line):
        fix = 'put text in quotes, as in use = "leave-on"'
    return fix
