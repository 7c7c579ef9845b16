"""Cautions of a catalogue's folder: what is to be minded, and what calls for it."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from string import Formatter

from msgspec.structs import replace

from optimiser.domain.catalogue import fold
from optimiser.domain.caution import KNOWN, WHAT, WHEN, WHO, Caution
from optimiser.domain.material import CATEGORIES, KINDS
from optimiser.domain.products import NAMES
from optimiser.reading.folders import Folder, Ground
from optimiser.reading.materials import CAUTIONS as TAGS
from optimiser.reading.materials import USES
from optimiser.reading.names import Names
from optimiser.reading.tables import Columns, TableRow

__all__ = ["COLUMNS", "read_cautions"]

FILE = "cautions.csv"
COLUMNS = Columns(
    "key,products,use,who,when,tags,categories,kinds,ingredients,constituents,"
    "over_percent,without,weight,text,reason,evidence,source,note,label,"
    "danger,strictness",
    "products use who when tags categories kinds ingredients constituents"
    " over_percent without note label danger strictness",
)
# A maker's own rows need no reason, and are told among the first unless they say else.
OWN = Columns(COLUMNS.header, " ".join(set(COLUMNS.known) - {"key", "text"}))
OWN_WEIGHT = 75.0
_WORDS: Mapping[str, Sequence[str]] = {
    "products": NAMES,
    "tags": TAGS,
    "categories": CATEGORIES,
    "kinds": tuple(dict.fromkeys(each for kinds in KINDS.values() for each in kinds)),
    "without": CATEGORIES,
}
_ONE = {
    "products": "kind of product",
    "tags": "tag",
    "categories": "category",
    "kinds": "kind",
    "without": "category",
}
WORDS = {column: Names.of(_ONE[column], among) for column, among in _WORDS.items()}


def read_cautions(
    folder: Folder, ground: Ground, constituents: Collection[str] | None
) -> dict[str, tuple[Caution, ...]]:
    """Return the cautions of a folder by key, in the order of their rows.

    A folder without the file has none, which is no slip.

    Parameters
    ----------
    constituents : collection of str
        Those that some ingredient holds, or a limit counts; None if they could not
        all be read.
    """
    columns = OWN if ground.own else COLUMNS
    table = replace(folder, own=True).table(FILE, columns)
    found: dict[str, tuple[Caution, ...]] = {}
    if table is None:
        return found
    for each in table.each(lambda row: _caution(row, ground, constituents)):
        found[each.key] = (*found.get(each.key, ()), each)
    return found


def _caution(
    row: TableRow, ground: Ground, constituents: Collection[str] | None
) -> Caution | None:
    """Return a row of cautions.csv."""
    before = len(row.table.problems)
    key, text = row.need("key"), row.need("text")
    said = _said(row, text or "")
    weight = row.number_in("weight", 0, 100)
    over = row.number_in("over_percent", 0, 100)
    reason = row.text("reason") if ground.own else row.need("reason")
    if not ground.own:
        row.need("weight")
    if row.text("evidence") or not ground.own:
        ground.evidence(row)
    use = row.choice("use", USES, blank=True) or "any"
    who = row.choice("who", WHO, blank=True) or "user"
    when = row.choice("when", WHEN, blank=True)
    source = ground.source(row)
    words = {column: _words(row, column, known) for column, known in WORDS.items()}
    if key is None or text is None:
        return None
    found = Caution(
        key=key,
        weight=OWN_WEIGHT if weight is None else weight,
        text=text,
        reason=reason or "",
        origin=row.origin,
        products=words["products"],
        use=use,
        who=who,
        when=when,
        tags=words["tags"],
        categories=words["categories"],
        kinds=words["kinds"],
        ingredients=_ingredients(row, ground),
        constituents=_constituents(row, constituents),
        over=over or 0.0,
        without=words["without"],
        evidence=row.text("evidence"),
        source=source,
        label=row.text("label"),
        danger=fold(row.text("danger")),
        strictness=row.number_in("strictness", 0, 100) or 0.0,
    )
    if len(row.table.problems) == before:
        _check(row, found, said)
    return found


def _words(row: TableRow, column: str, known: Names) -> tuple[str, ...]:
    """Return the words of a cell, each one of those allowed."""
    found = []
    for part in row.parts(column):
        word = known.find(part)
        if word is None:
            fix = f"write some of: {'; '.join(_WORDS[column])}"
            if column == "kinds":
                fix = "write kinds as ingredients.csv has them, such as meal; clay"
            row.say(column, known.wrong(part), fix)
        else:
            found.append(word)
    return tuple(found)


def _ingredients(row: TableRow, ground: Ground) -> tuple[str, ...]:
    """Return the keys of the ingredients that a row names."""
    found = []
    for part in row.parts("ingredients"):
        key = part if ground.ingredients is None else ground.ingredients.find(part)
        if key is None and ground.ingredients is not None:
            fix = "correct the name, or add the ingredient to ingredients.csv"
            row.say("ingredients", ground.ingredients.wrong(part), fix)
        elif key is not None:
            found.append(key)
    return tuple(found)


def _constituents(
    row: TableRow, constituents: Collection[str] | None
) -> tuple[str, ...]:
    """Return the constituents that a row names."""
    found = tuple(fold(part) for part in row.parts("constituents"))
    if constituents is not None:
        known = Names.of("constituent", sorted(constituents))
        for part in found:
            if known.find(part) is None:
                fix = "correct the name, or add the constituent to constituents.csv"
                row.say("constituents", known.wrong(part), fix)
    return found


def _said(row: TableRow, text: str) -> set[str]:
    """Return what stands in braces in a text, after saying what may not."""
    try:
        fields = {name for _, name, _, _ in Formatter().parse(text)} - {None}
    except ValueError:
        fields = {""}
    if fields - {"what", "known"}:
        fix = (
            f"keep of signs in braces only {WHAT}, for the names of the ingredients,"
            f" and {KNOWN}, after what it is without"
        )
        row.say("text", "has braces with something else in them", fix)
    return {str(each) for each in fields}


def _check(row: TableRow, found: Caution, said: Collection[str]) -> None:
    """Say what in a row does not go together."""
    named = found.tags or found.categories or found.kinds or found.ingredients
    if found.constituents and named:
        wrong = "stand beside ingredients, whose percent is that of something else"
        row.say("constituents", wrong, "give the constituents a row of their own")
    if found.over and not found.about_ingredients:
        wrong = "is more than nothing, and the row is about no ingredients"
        fix = "name tags, categories, kinds, ingredients or constituents"
        row.say("over_percent", wrong, fix)
    if "known" in said and not found.without:
        wrong = f"says {KNOWN}, and the row is without nothing"
        row.say("text", wrong, f"take {KNOWN} out, or name what it is without")
    if "what" in said and not found.about_ingredients:
        wrong = f"says {WHAT}, and the row is about no ingredients"
        row.say("text", wrong, f"take {WHAT} out, or name what calls for the caution")
