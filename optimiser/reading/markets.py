"""Law of the markets: substance limits, shared limits, scent allergens, climate."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import timedelta

from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue, fold
from optimiser.domain.law import (
    ScentAllergen,
    Scope,
    SharedLimit,
    SubstanceLimit,
    Zone,
)
from optimiser.domain.spoken import markets_in
from optimiser.errors import Problem, nearest
from optimiser.reading.cells import COLDEST, HOTTEST
from optimiser.reading.duties import SCOPE, market_of, scope_of, shipped_markets
from optimiser.reading.folders import Folder, Ground
from optimiser.reading.materials import USES
from optimiser.reading.names import Names
from optimiser.reading.tables import Columns, CsvTable, TableRow

__all__ = [
    "FILL",
    "NOT_THERE",
    "known_markets",
    "markets_named",
    "read_climate",
    "read_scent_allergens",
    "read_shared_limits",
    "read_substance_limits",
]

LIMITS = Columns(
    "market,limit,use,products,not_for,max_percent,counted_as,from,supply_until,read,"
    "instrument,entry,verified,source,note",
    f"counted_as verified note {SCOPE}",
)
SUBSTANCES = Columns(
    "limit,substance,factor,names,source,note",
    "names source note",
)
SHARED = Columns(
    "market,group,substance,use,max_percent,instrument,entry,verified,source,note",
    "entry verified note",
)
SCENT = Columns(
    "market,label_name,substance,leave_on_percent,rinse_off_percent,entry,"
    "last_day_placing,last_day_supply,read,verified,source,note",
    "entry last_day_placing last_day_supply read verified note",
)
CLIMATE = Columns(
    "zone,kind,description,low_degC,high_degC,verified,source,note",
    "description verified note",
)
MOST_FACTOR = 1e6
NOT_THERE = "has no rows in the catalogues, so nothing of its law would be checked"
OWN_ROWS = "add its rows to a folder markets of your workshop"
FILL = f"leave it out, or {OWN_ROWS}"
Factors = dict[str, dict[str, float]]
Synonyms = dict[str, tuple[str, ...]]


def known_markets(catalogue: Catalogue) -> tuple[str, ...]:
    """Return the codes of markets that may be named: the shipped ones and the rows'."""
    shipped = shipped_markets()
    return (*shipped, *sorted(catalogue.markets() - {*shipped}))


def markets_named(
    names: Iterable[str], catalogue: Catalogue, problems: list[Problem]
) -> tuple[str, ...]:
    """Return the codes of markets that the option --market names, each once."""
    known = known_markets(catalogue)
    spellings = Names.of("market", known)
    found: dict[str, None] = {}
    for name in (each for text in names for each in markets_in(text, known)):
        code = spellings.find(name)
        if code is None:
            fix = f"the markets are {', '.join(known)}; for another, {OWN_ROWS}"
            wrong = f"is no market that is known; {nearest(name, known)}"
            problems.append(Problem(wrong, field="--market", found=name, fix=fix))
            continue
        if code not in catalogue.markets():
            problems.append(Problem(NOT_THERE, field="--market", found=name, fix=FILL))
        found[code] = None
    return tuple(found)


def read_substance_limits(
    folder: Folder,
    ground: Ground,
    constituents: Collection[str] | None,
    shared: Iterable[SubstanceLimit] = (),
) -> tuple[SubstanceLimit, ...]:
    """Return the limits on preservatives and on restricted substances.

    Parameters
    ----------
    folder : Folder
        The folder of the markets.
    ground : Ground
        The sources that may be named.
    constituents : collection of str
        Constituents of ingredients: a limit of that name needs no row in
        substances.csv, and counts that constituent alone, by weight. None if
        they could not all be read.
    shared : iterable of SubstanceLimit
        Limits read before: the same name counts the same substances here, unless
        the folder's own substances.csv says otherwise.
    """
    table = folder.table("substances.csv", SUBSTANCES)
    factors: Factors = {each.name: dict(each.factors) for each in shared}
    names: Synonyms = {}
    for each in shared:
        names |= each.names
    if table is not None:
        factors |= _factors(table)
        names |= _synonyms(table, ground)
    whole = constituents is not None and (folder.own if table is None else table.whole)
    found: list[SubstanceLimit] = []
    named: set[str] = set()
    for name in ("preservative", "restricted"):
        file = "preservatives.csv" if name == "preservative" else "restricted.csv"
        rows = folder.table(file, LIMITS)
        whole = whole and (folder.own if rows is None else rows.whole)
        if rows is None:
            continue
        # Also rows with problems: what else they say is no slip of another table.
        named |= {fold(row.text("limit")) for row in rows.rows}
        for row, each in rows.each(lambda row: _limit(row, ground, name)):  # noqa: B023
            each = _with_factors(row, each, factors, constituents or (), whole)  # noqa: PLW2901
            called = {x: names[x] for x in each.factors if x in names}
            found.append(replace(each, names=called))
    if table is not None and whole and "" not in named:
        _check_named(table, named)
    return tuple(found)


def _factors(table: CsvTable) -> Factors:
    """Return limit -> substance -> factor of substances.csv."""
    factors: Factors = {}
    for row, limit, substance, factor in table.each(_factor):
        if substance in factors.setdefault(limit, {}):
            fix = "give each limit and substance one row"
            row.say("substance", f"is there twice for {limit}", fix)
        factors[limit][substance] = factor
    return factors


def _synonyms(table: CsvTable, ground: Ground) -> Synonyms:
    """Return what else the substances of substances.csv are called, with a source."""
    found: Synonyms = {}
    for row in table.rows:
        substance, names = fold(row.text("substance")), row.parts("names")
        if names:
            ground.source(row)
            found[substance] = (*found.get(substance, ()), *map(fold, names))
    return found


def _factor(row: TableRow) -> tuple[TableRow, str, str, float] | None:
    """Return a row of substances.csv."""
    limit, substance = row.need("limit"), row.need("substance")
    factor = row.need_number("factor", 0, MOST_FACTOR)
    if factor == 0:
        row.say("factor", "is zero", "write what one part of it counts as, above 0")
    if limit is None or substance is None or factor is None:
        return None
    return row, fold(limit), fold(substance), factor


def _limit(
    row: TableRow, ground: Ground, table: str
) -> tuple[TableRow, SubstanceLimit] | None:
    """Return a row of preservatives.csv or restricted.csv, without factors."""
    market, limit = market_of(row), row.need("limit")
    use, high = row.choice("use", USES), row.need_number("max_percent", 0, 100)
    instrument, source = row.need("instrument"), ground.source(row)
    if None in (market, limit, use, high, instrument):
        return None
    return row, SubstanceLimit(
        market or "",
        fold(limit or ""),
        table,
        use or "",
        high or 0.0,
        row.text("counted_as") or None,
        {},
        instrument or "",
        row.text("entry"),
        source,
        row.origin,
        scope_of(row, ground),
    )


def _with_factors(
    row: TableRow,
    limit: SubstanceLimit,
    factors: Factors,
    constituents: Collection[str],
    whole: bool,
) -> SubstanceLimit:
    """Return a limit with the substances that count toward it."""
    counted = factors.get(limit.name)
    if counted is None:
        counted = {limit.name: 1.0}
        if whole and limit.name not in constituents:
            wrong = "has no substance that counts toward it"
            row.say("limit", wrong, "add a row to substances.csv, or correct the name")
    return replace(limit, factors=counted)


def _check_named(table: CsvTable, named: set[str]) -> None:
    """Say which rows of substances.csv belong to no limit."""
    known = Names.of("limit", sorted(named))
    for row in table.rows:
        limit = row.text("limit")
        if limit and fold(limit) not in named:
            fix = "correct the name, or add the limit to restricted.csv"
            row.say("limit", known.wrong(limit), fix)


def read_shared_limits(folder: Folder, ground: Ground) -> tuple[SharedLimit, ...]:
    """Return the limits whose used shares add to at most one."""
    table = folder.table("shared_limits.csv", SHARED)
    if table is None:
        return ()
    caps: dict[tuple[str, str, str], dict[str, float]] = {}
    first: dict[tuple[str, str, str], TableRow] = {}
    for row, market, group, use, substance, high in table.each(
        lambda row: _share(row, ground)
    ):
        subject = (market, group, use)
        first.setdefault(subject, row)
        if substance in caps.setdefault(subject, {}):
            row.say("substance", f"is there twice for {group}", "keep one row of it")
        caps[subject][substance] = high
    return tuple(
        SharedLimit(
            *subject,
            caps[subject],
            row.text("instrument"),
            row.text("source"),
            row.origin,
        )
        for subject, row in first.items()
    )


def _share(
    row: TableRow, ground: Ground
) -> tuple[TableRow, str, str, str, str, float] | None:
    """Return a row of shared_limits.csv."""
    market, group = market_of(row), row.need("group")
    substance, use = row.need("substance"), row.choice("use", USES)
    high = row.need_number("max_percent", 0, 100)
    ground.source(row)
    row.need("instrument")
    if market is None or group is None or substance is None or use is None:
        return None
    if high is None:
        return None
    return row, market, group, use, fold(substance), high


def read_scent_allergens(folder: Folder, ground: Ground) -> tuple[ScentAllergen, ...]:
    """Return the names that a label carries above a threshold."""
    table = folder.table("scent_allergens.csv", SCENT)
    if table is None:
        return ()
    found: dict[tuple[str, str], ScentAllergen] = {}
    for row, each in table.each(lambda row: _scent(row, ground)):
        subject = (each.market, each.label_name)
        known = found.get(subject)
        if known is None:
            found[subject] = each
            continue
        if (known.leave_on, known.rinse_off) != (each.leave_on, each.rinse_off):
            fix = f"give every row of {each.label_name} the same two percentages"
            row.say("leave_on_percent", "differs from an earlier row", fix)
        substances = tuple(dict.fromkeys(known.substances + each.substances))
        found[subject] = replace(known, substances=substances)
    return tuple(found.values())


def _scent(row: TableRow, ground: Ground) -> tuple[TableRow, ScentAllergen] | None:
    """Return a row of scent_allergens.csv, with its one substance."""
    market, label = market_of(row), row.need("label_name")
    substance = row.need("substance")
    leave_on = row.need_number("leave_on_percent", 0, 100)
    rinse_off = row.need_number("rinse_off_percent", 0, 100)
    source = ground.source(row)
    if market is None or label is None or substance is None:
        return None
    if leave_on is None or rinse_off is None:
        return None
    return row, ScentAllergen(
        market,
        label,
        (fold(substance),),
        leave_on,
        rinse_off,
        source,
        _dated(row, ground),
    )


def _dated(row: TableRow, ground: Ground) -> Scope:
    """Return from which day a label names it: after the last for those without."""
    placing = row.day("last_day_placing")
    supply = row.day("last_day_supply")
    begins = None if placing is None else placing + timedelta(days=1)
    return replace(scope_of(row, ground), begins=begins, supply=supply)


def read_climate(folder: Folder, ground: Ground) -> dict[str, Zone]:
    """Return the temperature ranges to plan for, by name; deg C."""
    table = folder.table("climate.csv", CLIMATE)
    found: dict[str, Zone] = {}
    if table is None:
        return found
    for row, zone in table.each(lambda row: _zone(row, ground)):
        if zone.name in found:
            row.say("zone", "is there twice", "give each zone one row")
        found[zone.name] = zone
    return found


def _zone(row: TableRow, ground: Ground) -> tuple[TableRow, Zone] | None:
    """Return a row of climate.csv."""
    name, kind = row.need("zone"), row.need("kind")
    low = row.need_number("low_degC", COLDEST, HOTTEST)
    high = row.need_number("high_degC", COLDEST, HOTTEST)
    source = ground.source(row)
    if low is not None and high is not None and low > high:
        row.say("low_degC", "is more than high_degC", "swap the two")
    if name is None or kind is None or low is None or high is None:
        return None
    return row, Zone(name, kind, row.text("description"), low, high, source)
