"""Texts of files turned wrong: by cells, rows, lines, keys, signs and encodings."""

import csv
import io
import re

from hypothesis import strategies as st

# What cells and values become: numbers out of range, signs that do not show or turn
# the order of reading, what a spreadsheet would run, paths, and words of other places.
NASTY = (
    "",
    " ",
    "0",
    "-0",
    "-1",
    "1e308",
    "-1e308",
    "1e400",
    "1e-320",
    "1e-300",
    "0.000001",
    "99.99999999999999",
    "1e18",
    "99999999999999999999999999",
    "nan",
    "NaN",
    "inf",
    "-inf",
    "Infinity",
    "0x10",
    "1_000",
    "2,65",
    "1.000,5",
    "\u0661\u0662",
    "\uff11\uff12",
    "1/2",
    "1/0",
    "\u00bd",
    "2-3",
    "3 to",
    "about 3",
    "1 part",
    "\u2153 cup",
    "1 1/2 US cups",
    "3 level tsp",
    "A2 200 g, A3 75 g",
    "A2 nan g",
    "unknown",
    "invented",
    "10 %",
    "110%",
    "5 kg",
    "5 KG",
    "5 lb 3 oz",
    "1 drop",
    "30 degC",
    "-400 degC",
    "1e9 degC",
    "30 degF",
    "30 K",
    "2026-11-26",
    "26.11.2026",
    "26/11/2026",
    "11/26/2026",
    "26 Nov 2026",
    "11/2026",
    "2026-13",
    "0001-01-01",
    "9999-12-31",
    "2026-02-30",
    "yes",
    "no",
    "ask",
    "any",
    "all",
    "product",
    "lipids",
    "true",
    "false",
    "null",
    "None",
    "cocoa butter",
    "cocoa_butter",
    "Cocoa  Butter",
    "coco butter",
    "beeswax",
    "beeswax;cocoa_butter",
    "hard butter",
    "wax",
    "solid fat",
    "firmness",
    "density",
    "wax firmness",
    "HLB",
    "EU",
    "ZZ",
    "XAU",
    "leave-on",
    "opinion",
    "as the base",
    "as the base at 900 degC",
    "rapeseed oil",
    "marigold_oil",
    "\u200bcocoa butter",
    "cocoa\u00a0butter",
    "cocoa butter\u202e",
    "\u202egpj.exe",
    "\u2066x\u2069",
    "e\u0301",
    "\ufb01",
    "\U0001f9c8",
    "\ud7ff",
    "\ufeffcocoa butter",
    "\x00",
    "\x1b[31mred",
    "\x1b]8;;http://127.0.0.1/\x07link\x1b]8;;\x07",
    "\x9b2J",
    "\u061c\u200f\u200e",
    "\U000e0041",
    "a\u0300" * 80,
    "\x07",
    "a\tb",
    "a\nb",
    "a\r\nb",
    "\u2028",
    "\x85",
    "=1+1",
    "+1",
    "@SUM(A1)",
    "-cmd",
    '"',
    '""',
    "'",
    "\\",
    "\\u12",
    ";",
    ",",
    ";;;",
    "#",
    "[",
    "]]",
    "{",
    "<script>",
    "%s{0}{x}",
    "$(ls)",
    "../../etc/passwd",
    "/etc/passwd",
    "/dev/zero",
    "C:\\x.csv",
    "CON",
    ".",
    "..",
    "~",
    "http://127.0.0.1/",
    "x" * 300,
    "9" * 400,
    "9" * 5000,
    "a;" * 200,
    "(" * 200,
)
# What a TOML value becomes besides the above in quotes.
VALUES = (
    "1",
    "-1",
    "0",
    "0.0",
    "1e-300",
    "0.000001",
    "99.99999999999999",
    "1e308",
    "-1e308",
    "1e400",
    "nan",
    "inf",
    "-inf",
    "9" * 30,
    "9" * 5000,
    "0xffffffffffffffffffffff",
    "true",
    "false",
    "[]",
    "[[]]",
    "{}",
    "[1, 2]",
    '["a", "a"]',
    '["cocoa butter"]',
    "[true]",
    "{ min = 1 }",
    "{ max = -1 }",
    "{ min = 60, max = 2 }",
    "{ of = 3 }",
    "2026-11-26",
    "9999-12-31",
    "2026-11-26T10:00:00",
    "10:00:00",
    "''",
    '"""\n"""',
    '{ "cocoa butter" = { min = 1, max = 2 } }',
    "[{ }, { }]",
    "{ usual = 2, low = 3, high = 1 }",
    "[" * 90 + "]" * 90,
    "{ a.b.c.d.e = 1, a.b = 2 }",
)
ENCODINGS = ("utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-32", "cp1252", "cp037")
WAYS = (
    "cell",
    "cell",
    "cell",
    "swap cells",
    "drop column",
    "double column",
    "header",
    "drop row",
    "double row",
    "swap rows",
    "shift row",
    "value",
    "value",
    "value",
    "key",
    "drop line",
    "double line",
    "swap lines",
    "token",
    "token",
    "graft",
    "sign in",
    "sign out",
    "cut",
    "quote",
    "line ends",
    "encoding",
    "bytes",
)
TABLE = frozenset(WAYS[:11])
TOML = frozenset({"value", "key"})


@st.composite
def edits(draw, most=4):
    """Return a few changes: a way, three places from 0 to 1, and what comes in."""
    place = st.floats(0, 1, exclude_max=True)
    what = st.sampled_from(NASTY) | st.sampled_from(VALUES) | st.text(max_size=12)
    return draw(
        st.lists(
            st.tuples(st.sampled_from(WAYS), place, place, place, what),
            min_size=1,
            max_size=most,
        )
    )


def mutated(text, changes, *, table):
    """Return the bytes of a text after some changes; all of them can be applied."""
    encoding = "utf-8"
    raw = []
    for way, one, two, three, what in changes:
        if way == "encoding":
            encoding = ENCODINGS[int(one * len(ENCODINGS))]
        elif way == "bytes":
            raw.append((one, int(two * 256)))
        elif way in TABLE and table:
            text = _of_table(text, way, one, two, three, what)
        elif way in TOML and not table:
            text = _of_toml(text, way, one, what)
        else:
            text = _of_text(text, way, one, two, what)
    found = bytearray(text.encode(encoding, errors="replace"))
    for place, byte in raw:
        if found:
            found[int(place * len(found))] = byte
    return bytes(found)


def _of_table(text, way, one, two, three, what):
    try:
        rows = list(csv.reader(io.StringIO(text.replace("\0", ""), newline="")))
    except csv.Error:
        return text
    if not rows or not rows[0]:
        return text
    at, width = int(one * len(rows)), len(rows[0])
    column, other = int(two * width), int(three * len(rows))
    for row in rows:
        row.extend([""] * (width - len(row)))
    if way == "cell":
        rows[max(at, min(1, len(rows) - 1))][column] = what
    elif way == "swap cells":
        here, there = rows[at], rows[other]
        here[column], there[column] = there[column], here[column]
    elif way == "drop column":
        rows = [row[:column] + row[column + 1 :] for row in rows]
    elif way == "double column":
        rows = [[*row, row[column]] for row in rows]
    elif way == "header":
        rows[0][column] = what
    elif way == "drop row":
        del rows[at]
    elif way == "double row":
        rows.insert(other, list(rows[at]))
    elif way == "swap rows":
        rows[at], rows[other] = rows[other], rows[at]
    elif way == "shift row":
        rows[at] = ["", *rows[at]] if two < 0.5 else rows[at][1:]
    into = io.StringIO()
    csv.writer(into, lineterminator="\n").writerows(rows)
    return into.getvalue()


def _of_toml(text, way, one, what):
    lines = text.split("\n")
    written = [place for place, line in enumerate(lines) if "=" in line]
    if not written:
        return text
    place = written[int(one * len(written))]
    key, _, value = lines[place].partition("=")
    if way == "value":
        quoted = what if what in VALUES else '"' + what.replace('"', "'") + '"'
        lines[place] = f"{key}= {quoted}"
    else:
        lines[place] = f"{what} ={value}"
    return "\n".join(lines)


def _of_text(text, way, one, two, what):
    if not text:
        return what
    lines = text.split("\n")
    at, other = int(one * len(lines)), int(two * len(lines))
    sign = int(one * len(text))
    if way == "token":
        return _of_token(text, one, what)
    if way == "graft":
        end = at + max(1, int(two * 9))
        lines[other:other] = lines[at:end]
    elif way == "drop line":
        del lines[at]
    elif way == "double line":
        lines.insert(other, lines[at])
    elif way == "swap lines":
        lines[at], lines[other] = lines[other], lines[at]
    else:
        ends = {"\n": "\r\n", "\r\n": "\r"}
        return {
            "sign out": text[:sign] + text[sign + 1 :],
            "cut": text[:sign],
            "quote": text[:sign] + '"' + text[sign:],
            "line ends": text.replace("\n", ends["\n"] if two < 0.5 else "\r"),
        }.get(way, text[:sign] + what + text[sign:])
    return "\n".join(lines)


def _of_token(text, one, what):
    """Put something in place of a number or of a text in quotes, wherever it is."""
    found = list(re.finditer(r"(?<![\w.])-?\d+(?:\.\d+)?(?![\w.])|\"[^\"\n]*\"", text))
    if not found:
        return text
    place = found[int(one * len(found))]
    bare = what in VALUES or not place[0].startswith('"')
    return text[: place.start()] + (what if bare else f'"{what}"') + text[place.end() :]
