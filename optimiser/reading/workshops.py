"""A maker's own: prices, stock, the money they are told in, and the scale."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from msgspec import Struct

from optimiser.domain.catalogue import Scale
from optimiser.domain.material import Figure, Lot, Origin, PackPrice, Supplier
from optimiser.domain.recipe import Span
from optimiser.domain.record import FILE, shelf
from optimiser.errors import InputError, Problem, nearest
from optimiser.reading import disk
from optimiser.reading.cells import QuantityError, in_unit, read_quantity, to_amount
from optimiser.reading.currencies import INVENTED, Currency, Money, invented, money_of
from optimiser.reading.folders import Folder, Ground, shipped_folder, workshop_folder
from optimiser.reading.shapes import shown_value
from optimiser.reading.tables import Columns, TableRow
from optimiser.reading.toml_text import read_toml

__all__ = [
    "WORKSPACE",
    "Densities",
    "find_workshop",
    "read_lots",
    "read_prices",
    "read_scale",
    "read_stock",
    "read_suppliers",
    "remembered_workshop",
    "scale_file",
    "scale_in",
]

PRICES = Columns(
    "ingredient,pack,unit,price,freight,currency,date,supplier,keeps_months,evidence,note",
    "freight currency date supplier keeps_months evidence note",
)
SUPPLIERS = Columns(
    "supplier,freight,free_from,minimum,note",
    "freight free_from minimum note",
)
STOCK = Columns(
    "ingredient,lot,amount,unit,expiry,counted,evidence,note",
    "lot expiry counted evidence note",
)
ROOM = 20.0  # deg C; packs are filled and sold near it
# Volumes that are looked up before masses.
VOLUMES = {"l": "l", "ml": "ml", "litre": "l", "litres": "l", "liter": "l"}
# What is one thing in the US and another in the UK, ml: a gallon is 231 cubic inches
# there, 4.54609 l here, a fluid ounce its 128th and its 160th (exact by definition).
US_GALLON, UK_GALLON = 231 * 16.387064, 4546.09
MEASURES = {
    "fl oz": (US_GALLON / 128, UK_GALLON / 160),
    "pint": (US_GALLON / 8, UK_GALLON / 8),
    "quart": (US_GALLON / 4, UK_GALLON / 4),
    "gallon": (US_GALLON, UK_GALLON),
}
ALSO = {
    "floz": "fl oz",
    "fluid ounce": "fl oz",
    "gal": "gallon",
    "qt": "quart",
    "pt": "pint",
}
# Whose measure it is: by a word before it, else by the money that it is paid in.
WHOSE = {"us": 0, "uk": 1, "imperial": 1, "imp": 1, "USD": 0, "GBP": 1}
DENSITY_HEADER = "ingredient,property,at,value,unit,evidence"
_NOWHERE = "is not the same everywhere"
# What packs are not told in, and how to write them.
REFUSED = {
    "cup": (_NOWHERE, "write ml: cups are 237 to 284 ml"),
    "drop": ("has no size of its own", "weigh it and write g, or write ml"),
}
MOST_MONEY = 1e7  # of a price or a freight
LEAST_PACK, MOST_PACK = 1e-6 * (1 - 1e-9), 1e5 * (1 + 1e-9)  # kg
MOST_STOCK = 1e6  # kg
MOST_MONTHS = 1200  # that a pack keeps


class Densities(Struct, frozen=True):
    """Densities by ingredient and temperature; they turn volumes into masses.

    ``known`` is ingredient -> at (deg C, or None) -> figure in kg/m^3; ``whole``
    is False when some density was wrong: then none is called unknown. ``filled``
    tells what a millilitre of a liquid weighs as recipes are read, [g/ml], where
    its density is not known.
    """

    known: Mapping[str, Mapping[float | None, Figure]]
    whole: bool = True
    filled: Callable[[str], Span | None] = lambda _: None

    def of(self, ingredient: str) -> float | None:
        """Return the density nearest to room temperature, [kg/m^3]; None if unknown."""
        figures = self.known.get(ingredient)
        if not figures:
            return None
        at = min(figures, key=lambda at: 0.0 if at is None else abs(at - ROOM))
        return figures[at].value

    def mass(
        self, row: TableRow, column: str, ingredient: str | None, currency: str
    ) -> float | None:
        """Return the amount in a row's ``column`` and unit, [kg]; None if wrong.

        Whose gallon it is the ``currency`` tells where the unit does not.
        """
        number, unit = row.need_amount(column), row.need("unit")
        if number is None or unit is None:
            return None
        if unit not in VOLUMES and not _is_household(unit):
            try:
                return in_unit(number, unit, "kg")
            except QuantityError as error:
                row.say("unit", str(error), error.fix)
                return None
            except ValueError:
                pass
        each = _volume_in(row, unit, currency)
        return None if each is None else self._filled(row, number * each, ingredient)

    def _filled(
        self, row: TableRow, volume: float, ingredient: str | None
    ) -> float | None:
        """Return the mass of a volume in m^3, [kg]; None if no density is known."""
        density = None if ingredient is None else self.of(ingredient)
        if density is not None:
            return volume * density
        filled = None if ingredient is None else self.filled(ingredient)
        if filled is not None:
            return volume * filled.value * 1000.0
        if ingredient is not None and self.whole:
            wrong = f"is a volume, but no density is known of {ingredient}"
            fix = (
                "give it by weight, or add to your workshop's properties.csv"
                f" ({DENSITY_HEADER}) the row {ingredient},density,20 degC,VALUE,g/ml,"
                "supplier with the grams of a millilitre from your supplier's sheet"
            )
            row.say("unit", wrong, fix)
        return None


def is_volume(unit: str) -> bool:
    """Whether a unit of mass or volume is one of volume.

    >>> is_volume("ml"), is_volume("kg")
    (True, False)
    """
    if unit in VOLUMES:  # before Pint would be loaded to tell that it is no mass
        return True
    try:
        in_unit(1.0, unit, "kg")
    except ValueError:
        return True
    return False


POUNDS = {"lb", "pound", "oz", "ounce"}
_POINTS = str.maketrans("._", "  ")


def _plain(unit: str) -> str:
    """Return a unit of volume in small letters, in the singular, without its points.

    >>> _plain("Fl. Oz."), _plain("drops"), _plain("fluid_ounce"), _plain("US gal.")
    ('fl oz', 'drop', 'fluid ounce', 'us gal')
    """
    return " ".join(unit.casefold().translate(_POINTS).split()).removesuffix("s")


def _is_household(unit: str) -> bool:
    """Whether a unit is not the same everywhere, or is no measure."""
    return _plain(unit) in REFUSED or _measure(unit)[1] is not None


def _volume_in(row: TableRow, unit: str, currency: str) -> float | None:
    """Return a unit of volume, [m^3]; None after saying what is wrong with it."""
    refused = REFUSED.get(_plain(unit))
    if refused is not None:
        row.say("unit", *refused)
        return None
    measure, sizes = _measure(unit)
    if sizes is not None:
        whose = WHOSE.get(measure, WHOSE.get(currency))
        if whose is None:
            row.say("unit", _NOWHERE, _two_sizes(unit, sizes))
            return None
        return sizes[whose] * 1e-6
    try:
        return in_unit(1.0, VOLUMES.get(unit, unit), "m^3")
    except ValueError:
        wrong = "is not a unit of mass or volume"
        row.say("unit", wrong, "write kg, g, lb, oz, l or ml")
        return None


def _measure(unit: str) -> tuple[str, tuple[float, float] | None]:
    """Return whose measure a unit is, and its sizes in the US and the UK, ml.

    >>> _measure("US gal")[0], _measure("gallons")[0], _measure("ml")
    ('us', '', ('', None))
    """
    plain = _plain(unit)
    first, _, rest = plain.partition(" ")
    whose, plain = (first, rest) if first in WHOSE else ("", plain)
    return whose, MEASURES.get(ALSO.get(plain, plain))


def _two_sizes(unit: str, sizes: tuple[float, float]) -> str:
    """Return how to write a measure that has a size here and another there."""
    us, uk = (f"{x / 1e3:.4g} l" if x > 1e3 else f"{x:.4g} ml" for x in sizes)
    name = ALSO.get(_plain(unit), _plain(unit))
    return f"write US {name} ({us}) or UK {name} ({uk}), or how many ml or l it is"


def find_workshop(folder: Folder, name: str, asked: Origin | None) -> Folder | None:
    """Return the folder of a workshop, or None after adding a problem.

    ``asked`` is where the workshop was asked for, if that was in a file.
    """
    try:
        folders = disk.folders_in(folder.folder)
    except OSError:
        folders = ()
    if name in folders:
        return folder.inside(name, own=True)
    wrong = f"is not a workshop of {folder.shown}"
    if not folders:
        fix = f"make the folder {name} there; it holds none yet"
    else:
        fix = f"{nearest(name, folders)}; the workshops are {', '.join(folders[:20])}"
    file, key = (None, None) if asked is None else (asked.file, asked.field)
    folder.problems.append(Problem(wrong, file, None, key, name, fix))
    return None


WORKSPACE = "workspace.toml"  # in the folder of catalogues


def remembered_workshop(root: Path) -> str | None:
    """Return the workshop that a folder of catalogues names as the usual one, or None.

    Raises
    ------
    InputError
        If its file cannot be read, or names no workshop that is there.
    """
    path = root / WORKSPACE
    if not disk.exists(path):
        return None
    problems: list[Problem] = []
    shown = f"{root.name}/{WORKSPACE}"
    content = read_toml(path, shown, problems) or {}
    name = content.get("workshop")
    fix = 'write workshop = "NAME", a folder of catalogues/workshops'
    strange = [key for key in content if key != "workshop"]
    for key in strange:
        wrong = "is not a known key; the only one here is workshop"
        advice = "take it out" if "workshop" in content else fix
        problems.append(Problem(wrong, shown, field=key, fix=advice))
    if "workshop" in content and not isinstance(name, str):
        wrong = "is no text in quotes"
        problems.append(Problem(wrong, shown, None, "workshop", shown_value(name), fix))
    elif not problems and name is None:
        problems.append(Problem("is missing", shown, field="workshop", fix=fix))
    if isinstance(name, str):
        top = Folder(root, root.name, problems)
        find_workshop(top.inside("workshops"), name, Origin(shown, field="workshop"))
    if problems:
        raise InputError(problems)
    return name if isinstance(name, str) else None


def read_prices(
    folder: Folder,
    ground: Ground,
    densities: Densities,
    currency: Currency,
    suppliers: Mapping[str, Supplier] | None = None,
) -> tuple[dict[str, tuple[PackPrice, ...]], Money]:
    """Return packs by ingredient, and the one money they are priced in.

    An invented pack counts only where the ingredient has none of the maker's own, and
    where it is priced in the workshop's currency.

    Parameters
    ----------
    place : Folder
        The workshop's folder.
    ground : Ground
        Ingredients that may be named.
    densities : Densities
        For packs sold by volume.
    currency : Currency
        What scale.toml says of it.
    suppliers : mapping of name to Supplier, optional
        Those of suppliers.csv; without it a row may name any.
    """
    table = folder.table("prices.csv", PRICES)
    if table is None:
        return {}, Money(currency.code or "")
    money = money_of(table, currency)
    packs: dict[str, list[PackPrice]] = {}
    for each in table.each(
        lambda row: _price(row, ground, densities, money, suppliers)
    ):
        if not (each.invented and each.currency in money.uncounted):
            packs.setdefault(each.ingredient, []).append(each)
    found = {ingredient: _own_first(each) for ingredient, each in packs.items()}
    return found, money


def _own_first(packs: Sequence[PackPrice]) -> tuple[PackPrice, ...]:
    """Return the packs that can be bought: no invented one beside a maker's own."""
    own = [each for each in packs if not each.invented]
    return tuple(own or packs)


def read_suppliers(folder: Folder) -> dict[str, Supplier] | None:
    """Return a workshop's suppliers by name; None where it has no table of them."""
    table = folder.table("suppliers.csv", SUPPLIERS)
    if table is None:
        return None
    found: dict[str, Supplier] = {}
    for row, each in table.each(_supplier):
        first = found.setdefault(each.name, each)
        if first is not each:
            wrong = f"is in row {first.origin.row} already"
            row.say("supplier", wrong, "give each supplier one row")
    return found


def _supplier(row: TableRow) -> tuple[TableRow, Supplier] | None:
    """Return a row of suppliers.csv."""
    name = row.need("supplier")
    freight = row.number_in("freight", 0, MOST_MONEY) or 0.0
    free_from = row.number_in("free_from", 0, MOST_MONEY)
    minimum = row.number_in("minimum", 0, MOST_MONEY) or 0.0
    if free_from is not None and not freight and not row.text("freight"):
        fix = "write the freight of an order, or leave free_from blank"
        row.say("free_from", "frees an order of a freight that is not told", fix)
    if name is None:
        return None
    return row, Supplier(name, freight, free_from, minimum, row.origin)


def _keeps(row: TableRow) -> float | None:
    """Return how many months a pack keeps; None if blank, or wrong and said so."""
    months = row.number_in("keeps_months", 1, MOST_MONTHS)
    if months is not None and months != int(months):
        row.say("keeps_months", "is no whole number of months", "write it like 24")
    return months


def _price(
    row: TableRow,
    ground: Ground,
    densities: Densities,
    money: Money,
    suppliers: Mapping[str, Supplier] | None,
) -> PackPrice | None:
    """Return a row of prices.csv."""
    ingredient = ground.ingredient(row)
    currency, day = money.of(row), row.day("date")
    pack = densities.mass(row, "pack", ingredient, currency)
    price = row.need_number("price", 0, MOST_MONEY)
    freight = row.number_in("freight", 0, MOST_MONEY)
    supplier, months = row.text("supplier"), _keeps(row)
    if supplier and suppliers is not None and supplier not in suppliers:
        wrong = f"is no supplier of suppliers.csv; {nearest(supplier, suppliers)}"
        row.say("supplier", wrong, "correct the name, or add a row for it there")
    if pack == 0:
        row.say("pack", "is an empty pack", "write how much one pack holds")
    elif pack is not None and not LEAST_PACK <= pack <= MOST_PACK:
        wrong = "is less than 1 mg" if pack < 1 else "is more than 100000 kg"
        row.say("pack", wrong, "write how much one pack holds, and in which unit")
    if ingredient is None or pack is None or price is None:
        return None
    return PackPrice(
        ingredient,
        pack,
        price,
        freight or 0.0,
        currency,
        day,
        row.origin,
        volume=_as_written(row, is_volume),
        invented=invented(row),
        noted="evidence" not in row.cells and INVENTED in row.text("note").casefold(),
        supplier=supplier,
        keeps_months=months,
        pounds=_as_written(row, lambda unit: _plain(unit) in POUNDS),
    )


def _as_written(row: TableRow, is_so: Callable[[str], bool]) -> str:
    """Return what a pack holds as written, where its unit is so; else nothing."""
    number, unit = to_amount(row.text("pack")), row.text("unit")
    return f"{number:g} {unit}" if number and is_so(unit) else ""


def read_lots(
    folder: Folder, ground: Ground, densities: Densities, currency: str = ""
) -> tuple[Lot, ...]:
    """Return the lots of stock.csv as they were written, amounts in kg.

    ``currency`` is the workshop's: it tells whose gallon is meant.
    """
    table = folder.table("stock.csv", STOCK)
    if table is None:
        return ()
    seen: dict[tuple[str, str], int] = {}
    return tuple(table.each(lambda row: _lot(row, ground, densities, currency, seen)))


def read_stock(folder: Folder, lots: Sequence[Lot]) -> tuple[Lot, ...]:
    """Return what is on the shelf: lots less what recorded batches took from them.

    Used-up ones are left out. The one place where the shelf is worked out.
    """
    path = folder.folder / FILE
    if lots and disk.stands(path):
        from optimiser.reading.records import read_book  # noqa: PLC0415 - where kept

        disk.watch(path)
        try:
            book = read_book(path, f"{folder.shown}/{FILE}")
        except InputError as error:
            folder.problems.extend(error.problems)
            return ()
        disk.watch(path)
        lots = shelf(lots, book.batches)
    return tuple(lot for lot in lots if lot.amount > 0)


def _lot(
    row: TableRow,
    ground: Ground,
    densities: Densities,
    currency: str,
    seen: dict[tuple[str, str], int],
) -> Lot | None:
    """Return a row of stock.csv; ``seen`` gains its ingredient and lot."""
    ingredient = ground.ingredient(row)
    amount = densities.mass(row, "amount", ingredient, currency)
    expiry = row.day("expiry", of_a_month=True)
    if ingredient is None or amount is None:
        return None
    if amount > MOST_STOCK:
        row.say("amount", "is more than 1000000 kg", "correct the amount or its unit")
    name = row.text("lot")
    first = seen.setdefault((ingredient, name), row.number)
    if name and first != row.number:
        fix = "give each lot one row, or another name"
        row.say("lot", f"is in row {first} already for {ingredient}", fix)
    counted = row.day("counted")
    if counted is not None and counted > disk.today():
        row.say("counted", "is a day to come", "write the day on which it was counted")
    return Lot(
        ingredient, name, amount, expiry, row.origin, counted, invented=invented(row)
    )


EXAMPLES = {"readability": "0.1 g", "smallest": "5 g"}


def scale_file(scenario: Path, workshop: str) -> tuple[Path, str]:
    """Return where scale.toml of a scenario's workshop is, and what it is called.

    Parameters
    ----------
    scenario : Path
        The scenario's file; its workshop is found as its catalogue is.
    """
    folder = workshop_folder(scenario, workshop)
    if folder is None:
        folder = shipped_folder("catalogues") / "workshops" / workshop
    return folder / "scale.toml", f"{folder.name}/scale.toml"


def read_scale(scenario: Path, workshop: str) -> Scale:
    """Return the scale of a scenario's workshop; nothing is known without its table.

    Raises
    ------
    InputError
        With every entry of the table that is no mass above zero.
    """
    return scale_in(*scale_file(scenario, workshop))


def scale_in(path: Path, shown: str) -> Scale:
    """Return the scale of a workshop's scale.toml (see `read_scale`)."""
    if not disk.stands(path):
        return Scale(None, None)
    problems: list[Problem] = []
    content = read_toml(path, shown, problems) or {}
    table = content.get("scale", {})
    if not isinstance(table, dict):
        fix = 'write [scale] and, below it, readability = "0.1 g"'
        problems.append(Problem("is no table", shown, field="scale", fix=fix))
        table = {}
    found = {key: _mass(table.get(key), key, shown, problems) for key in EXAMPLES}
    if problems:
        raise InputError(problems)
    return Scale(found["readability"], found["smallest"])


def _mass(value: Any, key: str, shown: str, problems: list[Problem]) -> float | None:  # noqa: ANN401 - as read
    if value is None:
        return None
    example = f'write it like {key} = "{EXAMPLES[key]}"'
    wrong, fix = "is not a mass in quotes", example
    if isinstance(value, str):
        try:
            kg = read_quantity(value, "kg", EXAMPLES[key])
        except QuantityError as error:
            wrong, fix = str(error), error.fix
        else:
            if kg > 0:
                return kg
            wrong = "is not above zero"
    problems.append(
        Problem(wrong, shown, None, f"scale.{key}", shown_value(value), fix)
    )
    return None
