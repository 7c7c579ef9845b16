"""A report as values: what is said and in which order, before anything gives it a look.

No widths and no markup here; numbers keep their value beside the digits they are shown
with, so that a terminal, a page and a spreadsheet say the same.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from msgspec import Struct
from msgspec.structs import replace

__all__ = [
    "TICK",
    "BandLine",
    "Bands",
    "Block",
    "Cell",
    "Item",
    "Number",
    "Numbered",
    "Page",
    "Paragraph",
    "Plot",
    "Section",
    "Series",
    "Table",
    "TableColumn",
    "items",
    "numbers",
    "said_once",
    "section",
    "untyped",
    "words",
]


TICK = "[ ]"  # a box to tick


class Number(Struct, frozen=True):
    """A figure and how it is shown; ``value`` None is one that is not known."""

    value: float | None
    text: str


Cell = str | Number


class TableColumn(Struct, frozen=True):
    """One column of a table: its head with the unit, and a cell a row.

    Columns of ``words`` may be narrowed to ``least`` characters where room is short,
    by shortening instead of wrapping where ``wraps`` is False. Figures with ``bar`` are
    drawn too where there is room, all such columns of a table on one scale from zero.
    """

    head: str
    cells: tuple[Cell, ...]
    words: bool = False
    least: int = 12
    wraps: bool = True
    bar: bool = False


class Paragraph(Struct, frozen=True, tag=True):
    """Some sentences from margin to margin.

    ``core`` is what they say where that is less than their words: of two with one core
    the first has told it. ``typed`` are those after the text that are for who types
    commands: a page that is answered otherwise leaves them out.
    """

    text: str
    core: str = ""
    typed: str = ""

    @property
    def whole(self) -> str:
        """All that it says to who types commands."""
        return " ".join(filter(None, (self.text, self.typed)))


class Item(Struct, frozen=True, tag=True):
    """One thing of a list, what stands ``under`` it, and what is ``typed`` after it."""

    text: str
    under: tuple[str, ...] = ()
    typed: str = ""

    @property
    def whole(self) -> str:
        """All that it says to who types commands, but for what stands under it."""
        return " ".join(filter(None, (self.text, self.typed)))


class Numbered(Struct, frozen=True, tag=True):
    """Things in a numbered order; with ``ticked`` each has a box to tick on paper."""

    texts: tuple[str, ...]
    ticked: bool = False

    @property
    def written(self) -> tuple[str, ...]:
        """The texts, with their boxes where signs are all there is to draw with."""
        return tuple(f"{TICK} {x}" for x in self.texts) if self.ticked else self.texts


class Table(Struct, frozen=True, tag=True):
    """Columns side by side; ``lines`` are the rows that a line is drawn above."""

    columns: tuple[TableColumn, ...]
    lines: tuple[int, ...] = ()


class Series(Struct, frozen=True):
    """One curve of a figure: a value, or None, at each place; with doubt either way.

    ``span`` is a low and a high at each place instead, where they are not as far.
    """

    name: str
    at: tuple[float, ...]
    values: tuple[float | None, ...]
    doubt: tuple[float | None, ...] = ()
    span: tuple[tuple[float, float] | None, ...] = ()

    def band(self) -> tuple[tuple[float, float] | None, ...]:
        """Return the low and the high at each place; empty without any."""
        if self.span:
            return self.span
        rows = zip(self.values, self.doubt, strict=False)
        return tuple(
            None if v is None or d is None else (v - d, v + d) for v, d in rows
        )


class Plot(Struct, frozen=True, tag=True):
    """Curves over one axis with the message in words, for who cannot see them.

    With ``places`` the values are told too, with so many decimals. The scale begins
    at zero unless ``zero`` is False.
    """

    caption: str
    across: str
    up: str
    series: tuple[Series, ...]
    places: int | None = None
    zero: bool = True


class BandLine(Struct, frozen=True):
    """One band of a figure: its ends, None where it has none, and what lies in it.

    ``value`` is what is told of, ``dots`` are what others have.
    """

    name: str
    low: float | None
    high: float | None
    value: float | None = None
    dots: tuple[float, ...] = ()


class Bands(Struct, frozen=True, tag=True):
    """Bands below each other on one scale from zero, with the message in words.

    ``mark`` says what the value of each is, ``dots`` what its dots are.
    """

    caption: str
    unit: str
    spans: tuple[BandLine, ...]
    mark: str
    dots: str = ""


Block = Paragraph | Item | Numbered | Table | Plot | Bands


class Section(Struct, frozen=True):
    """Blocks under a title; the first of a page may have none.

    ``close`` if it belongs to the one before it so much that no space parts them.
    """

    title: str
    blocks: tuple[Block, ...]
    close: bool = False


class Page(Struct, frozen=True):
    """A report: its title, a line of what it is about, and its sections in order."""

    title: str
    about: tuple[str, ...]
    sections: tuple[Section, ...]


def section(
    title: str, blocks: Iterable[Block], *, close: bool = False
) -> tuple[Section, ...]:
    """Return a section to add to others; nothing where it has nothing to say.

    >>> section("Notes", [])
    ()
    """
    found = tuple(blocks)
    return (Section(title, found, close),) if found else ()


def untyped(sections: Iterable[Section]) -> tuple[Section, ...]:
    """Return sections without what is for who types commands.

    >>> said = (Item("1 more", typed="with --full"), Paragraph("", typed="Next: ..."))
    >>> untyped([Section("", said)])[0].blocks
    (Item(text='1 more', under=(), typed=''),)
    """
    found: list[Section] = []
    for each in sections:
        blocks = tuple(
            replace(x, typed="") if isinstance(x, Paragraph | Item) else x
            for x in each.blocks
            if not (isinstance(x, Paragraph | Item) and x.typed and not x.text)
        )
        found += section(each.title, blocks, close=each.close)
    return tuple(found)


def items(texts: Iterable[str | Item]) -> tuple[Item, ...]:
    """Return texts as a plain list; what is an item already stays as it is.

    >>> items(["one"])
    (Item(text='one', under=(), typed=''),)
    """
    return tuple(x if isinstance(x, Item) else Item(x) for x in texts)


def numbers(
    head: str,
    values: Iterable[float | None],
    show: Callable[[float], str],
    unknown: str = "",
) -> TableColumn:
    """Return a column of figures, each shown the same way.

    >>> numbers("%", [0.5, None], "{:.2f}".format, "-").cells
    (Number(value=0.5, text='0.50'), Number(value=None, text='-'))
    """
    cells = (Number(v, unknown if v is None else show(v)) for v in values)
    return TableColumn(head, tuple(cells))


def words(
    head: str, texts: Iterable[str], least: int = 12, *, wraps: bool = True
) -> TableColumn:
    """Return a column of words, narrowed to ``least`` characters where room is short.

    >>> words("", ["shea butter"]).words
    True
    """
    return TableColumn(head, tuple(texts), words=True, least=least, wraps=wraps)


def said_once(pages: Iterable[Page]) -> list[Page]:
    """Return pages without the sentences and list items that one before has told.

    Law, notes and cautions are the same for every chapter of a report.
    """
    told: set[Block] = set()
    found = []
    for page in pages:
        sections = [
            replace(
                each,
                blocks=tuple(x for x in each.blocks if _core(x) not in told),
            )
            for each in page.sections
        ]
        told |= {
            _core(x)
            for each in page.sections
            for x in each.blocks
            if isinstance(x, Paragraph | Item)
        }
        kept = tuple(each for each in sections if each.blocks)
        found.append(replace(page, sections=kept))
    return found


def _core(block: Block) -> Block:
    """Return what a block says, as another one may say it with more words."""
    if isinstance(block, Paragraph) and block.core:
        return Paragraph(block.core)
    return block
