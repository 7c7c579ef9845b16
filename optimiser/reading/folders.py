"""Folders of a catalogue, what the reading of their tables shares, and shipped ones."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

from msgspec import Struct, field

import optimiser
from optimiser.domain.catalogue import Source
from optimiser.domain.material import EVIDENCE
from optimiser.errors import Problem
from optimiser.reading import disk
from optimiser.reading.disk import real_path
from optimiser.reading.names import Names
from optimiser.reading.sheets import SUFFIX, sheet_names
from optimiser.reading.tables import Columns, CsvTable, TableRow, read_table

__all__ = [
    "LEADS_OUT",
    "Folder",
    "Ground",
    "catalogues_of",
    "law_folders",
    "leads_out",
    "nearest_catalogues",
    "outside",
    "read_sources",
    "shipped_folder",
    "workshop_folder",
]

SOURCES = Columns(
    "key,reference,licence,read,note",
    "licence read note",
)
PARTS = ("materials", "markets", "workshops")
LEADS_OUT = "is a link that leads out of the workspace"
SHARED_EVIDENCE = tuple(word for word in EVIDENCE if word != "invented")


class Folder(Struct, frozen=True):
    """A folder of tables; ``own`` if it is the maker's and may leave files out.

    A table is a CSV file or, in its place, a spreadsheet of that name. With ``book``
    the sheets of that spreadsheet stand in place of the files of their names.
    """

    folder: Path
    shown: str
    problems: list[Problem]
    own: bool = False
    book: Path | None = None

    def table(self, name: str, columns: Columns) -> CsvTable | None:
        """Return a table of the folder; None for an absent file of the maker."""
        path = self.folder / name
        shown = f"{self.shown}/{name}"
        book, sheet = self.book, path.with_suffix(SUFFIX)
        if book is not None and path.stem in sheet_names(book, str(book), []):
            return read_table(book, str(book), columns, self.problems, path.stem)
        if disk.is_file(sheet):
            if disk.exists(path):
                fix = "keep one of the two"
                wrong = f"is there, and so is {name}"
                self.problems.append(
                    Problem(wrong, f"{self.shown}/{sheet.name}", fix=fix)
                )
                return None
            path, shown = sheet, f"{self.shown}/{sheet.name}"
        if not disk.stands(path):
            if not self.own:
                fix = f"put it there; its header row is {columns.header}"
                self.problems.append(Problem("is not there", shown, fix=fix))
            return None
        if leads_out(self.folder, path):
            fix = "put a copy in its place"
            self.problems.append(Problem(LEADS_OUT, shown, fix=fix))
            return None
        return read_table(path, shown, columns, self.problems)

    def inside(self, name: str, *, own: bool = False) -> Folder:
        """Return the folder ``name`` of this one."""
        return Folder(self.folder / name, f"{self.shown}/{name}", self.problems, own)


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

    def ingredient(self, row: TableRow) -> str | None:
        """Return the key of the row's ingredient, or None after a problem."""
        fix = "correct the name, or add the ingredient to ingredients.csv"
        return row.name_in("ingredient", self.ingredients, fix)

    def source(self, row: TableRow) -> str:
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

    def evidence(self, row: TableRow) -> str:
        """Return how well the row's figure is known, checked."""
        among = EVIDENCE if self.own else SHARED_EVIDENCE
        return row.choice("evidence", among) or ""


def read_sources(folder: Folder, into: dict[str, Source]) -> bool:
    """Add a folder's sources to ``into``; return whether they could be read."""
    table = folder.table("sources.csv", SOURCES)
    if table is None:
        return folder.own
    seen: dict[str, int] = {}
    before = len(folder.problems)
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
    return table.whole and len(folder.problems) == before


def _source(row: TableRow) -> tuple[TableRow, Source] | None:
    """Return a row of sources.csv."""
    key, reference = row.need("key"), row.need("reference")
    if key is None or reference is None:
        return None
    licence, read = row.text("licence") or None, row.text("read") or None
    return row, Source(key, reference, licence, read)


def source_names(sources: Mapping[str, Source]) -> Names:
    """Return the keys of sources as names to check against."""
    return Names.of("source", sources)


def law_folders(
    catalogues: Path, workshop: str | None, problems: list[Problem]
) -> Iterator[tuple[Folder, Ground]]:
    """Yield the shared folder of law, then a workshop's own, and what their rows name.

    A maker's own rows need name no source; those they name may be the maker's or the
    shared ones.
    """
    top = Folder(catalogues, catalogues.name, problems)
    law = top.inside("markets")
    sources: dict[str, Source] = {}
    whole = read_sources(law, sources)
    yield law, Ground(None, source_names(sources) if whole else None)
    if workshop is None:
        return
    own = top.inside("workshops").inside(workshop, own=True)
    mine = own.inside("markets", own=True)
    if disk.is_folder(mine.folder):
        whole = read_sources(own, sources) and whole
        yield mine, Ground(None, source_names(sources) if whole else None, own=True)


def shipped_folder(name: str) -> Path:
    """Return the folder "catalogues" or "scenarios" that came with the program.

    Parameters
    ----------
    name : str
        Name of the folder.

    Returns
    -------
    Path
        The folder inside the installed package or, in a checkout, beside it.
    """
    package = real_path(Path(optimiser.__file__)).parent
    installed = package / "_data" / name
    return installed if disk.is_folder(installed) else package.parent / name


def catalogues_of(path: Path) -> Path:
    """Return the folder of the catalogues that a scenario uses."""
    return nearest_catalogues(real_path(path).parents)


def nearest_catalogues(folders: Iterable[Path]) -> Path:
    """Return the first folder of catalogues in these folders, or the shipped one.

    A folder of that name without any of the three parts is something else.
    """
    for folder in folders:
        found = folder / "catalogues"
        if any(disk.is_folder(found / part) for part in PARTS):
            return found
    return shipped_folder("catalogues")


def outside(folder: Path, named: Path) -> tuple[str, str] | None:
    """Return what is wrong with a file that one of a workspace names, and the fix.

    Such a file may come from anybody, and decides what is opened: nothing is read
    that lies beyond the workspace, by its links too, but what the program came with.
    Where no catalogues are above the folder there is no workspace.
    """
    above = (real_path(folder), *real_path(folder).parents)
    top = real_path(nearest_catalogues(above).parent)
    places = real_path(named).parents
    if top not in above or top in places or real_path(shipped_folder("")) in places:
        return None
    return "lies outside the workspace", f"put a copy into {top.name}, and name that"


def leads_out(folder: Path, path: Path) -> bool:
    """Whether a file of a workspace's own folder is a link to what lies outside of it.

    A workspace may come from a stranger, and a link of it lead to anything.
    """
    return disk.is_link(path) and outside(folder, path) is not None


def workshop_folder(path: Path, workshop: str) -> Path | None:
    """Return a scenario's workshop folder; None where the catalogues are not above it.

    Then they are the ones that came with the program, which are not the maker's own.
    """
    root = catalogues_of(path)
    own = real_path(root.parent) in real_path(path).parents
    return root / "workshops" / workshop if own else None
