"""Folders of a catalogue, and what the reading of its tables shares."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from msgspec import Struct, field

from optimiser.domain.catalogue import Source
from optimiser.domain.material import EVIDENCE
from optimiser.errors import Problem
from optimiser.reading.names import Names
from optimiser.reading.tables import Columns, Row, Table, read_table

__all__ = ["Ground", "Place", "read_sources"]

SOURCES = Columns(
    "key,reference,licence,read,note",
    "licence read note",
)
SHARED_EVIDENCE = tuple(word for word in EVIDENCE if word != "invented")


class Place(Struct, frozen=True):
    """A folder of tables; ``own`` if it is the maker's and may leave files out."""

    folder: Path
    shown: str
    problems: list[Problem]
    own: bool = False

    def table(self, name: str, columns: Columns) -> Table | None:
        """Return a table of the folder; None for an absent file of the maker."""
        path = self.folder / name
        shown = f"{self.shown}/{name}"
        if not path.exists() and not path.is_symlink():
            if not self.own:
                fix = f"put it there; its header row is {columns.header}"
                self.problems.append(Problem("is not there", shown, fix=fix))
            return None
        return read_table(path, shown, columns, self.problems)

    def inside(self, name: str, *, own: bool = False) -> Place:
        """Return the folder ``name`` of this one."""
        return Place(self.folder / name, f"{self.shown}/{name}", self.problems, own)


class Ground(Struct, frozen=True):
    """What a row of a table is checked against.

    ``ingredients`` or ``sources`` is None when their own table could not be read:
    then any name is taken, for the real problem has been said already. ``known`` are
    texts of sources that were right before.
    """

    ingredients: Names | None
    sources: Names | None
    own: bool = False
    known: set[str] = field(default_factory=set)

    def ingredient(self, row: Row) -> str | None:
        """Return the key of the row's ingredient, or None after a problem."""
        fix = "correct the name, or add the ingredient to ingredients.csv"
        return row.name_in("ingredient", self.ingredients, fix)

    def source(self, row: Row) -> str:
        """Return the row's source, checked; the maker's own rows may have none."""
        text = row.text("source")
        if not text:
            if not self.own:
                row.say("source", "is blank", "name a key of sources.csv")
            return ""
        if self.sources is None or text in self.known:
            return text
        wrong = [key for key in row.parts("source") if not self.sources.find(key)]
        for key in wrong:
            fix = "correct the key, or add the source to sources.csv"
            row.say("source", self.sources.wrong(key), fix)
        if not wrong:
            self.known.add(text)
        return text

    def evidence(self, row: Row) -> str:
        """Return how well the row's figure is known, checked."""
        among = EVIDENCE if self.own else SHARED_EVIDENCE
        return row.choice("evidence", among) or ""


def read_sources(place: Place, into: dict[str, Source]) -> bool:
    """Add a folder's sources to ``into``; return whether they could be read."""
    table = place.table("sources.csv", SOURCES)
    if table is None:
        return place.own
    seen: dict[str, int] = {}
    before = len(place.problems)
    for row, source in table.each(_source):
        if source.key in seen:
            wrong = f"is in row {seen[source.key]} already"
            row.say("key", wrong, "give each source one row")
            continue
        seen[source.key] = row.number
        known = into.setdefault(source.key, source)
        if known.reference != source.reference:
            wrong = "stands for another reference in another sources.csv"
            row.say("key", wrong, "give one of the two another key")
    return table.whole and len(place.problems) == before


def _source(row: Row) -> tuple[Row, Source] | None:
    """Return a row of sources.csv."""
    key, reference = row.need("key"), row.need("reference")
    if key is None or reference is None:
        return None
    licence, read = row.text("licence") or None, row.text("read") or None
    return row, Source(key, reference, licence, read)


def source_names(sources: Mapping[str, Source]) -> Names:
    """Return the keys of sources as names to check against."""
    return Names.of("source", sources)
