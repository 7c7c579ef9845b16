"""What a maker can ask of the workbench, and the scenario file that asks the same.

A wish is an edit of the file's text, whose comments stay: what is answered is always a
file that could be saved as it is.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, MutableMapping
from typing import Any

import tomlkit
from msgspec import Struct
from tomlkit.exceptions import TOMLKitError

from optimiser.domain.catalogue import Catalogue, fold
from optimiser.domain.rule import Rule
from optimiser.domain.scenario import Bound, Scenario, Window
from optimiser.domain.spoken import use_of
from optimiser.errors import InputError, Problem

__all__ = [
    "AimAt",
    "KeepOut",
    "KeptIn",
    "LeaveOut",
    "Limit",
    "MadeAs",
    "PinAt",
    "SoldIn",
    "TakeWay",
    "Wish",
    "edited",
]


class Limit(
    Struct, frozen=True, tag="limit", tag_field="do", forbid_unknown_fields=True
):
    """Another limit for a rule, in its own unit."""

    rule: str
    to: float


class LeaveOut(
    Struct, frozen=True, tag="ingredient", tag_field="do", forbid_unknown_fields=True
):
    """An ingredient, by its key, that is not to be used; or may be again."""

    ingredient: str
    out: bool


class KeepOut(
    Struct, frozen=True, tag="allergen", tag_field="do", forbid_unknown_fields=True
):
    """An allergen that is to be kept out; or need not be any more."""

    allergen: str
    out: bool


class PinAt(Struct, frozen=True, tag="pin", tag_field="do", forbid_unknown_fields=True):
    """An ingredient, by its key, and the percent it is kept at; None lets it go."""

    ingredient: str
    at: float | None


class AimAt(Struct, frozen=True, tag="aim", tag_field="do", forbid_unknown_fields=True):
    """The aims in their order."""

    order: tuple[str, ...]


class TakeWay(
    Struct, frozen=True, tag="way", tag_field="do", forbid_unknown_fields=True
):
    """A way out of the clash that is shown, by its number from 1."""

    way: int


class MadeAs(
    Struct, frozen=True, tag="product", tag_field="do", forbid_unknown_fields=True
):
    """What it is made as, in the maker's words: law, habit and cautions go by it."""

    product: str


class SoldIn(
    Struct, frozen=True, tag="markets", tag_field="do", forbid_unknown_fields=True
):
    """The markets it is sold in."""

    markets: tuple[str, ...]


class KeptIn(
    Struct, frozen=True, tag="climate", tag_field="do", forbid_unknown_fields=True
):
    """The climate it is kept in; None where none is named."""

    zone: str | None


Edit = Limit | LeaveOut | KeepOut | PinAt | AimAt | MadeAs | SoldIn | KeptIn
Wish = Edit | TakeWay

TABLES = {
    "band": "bands",
    "limit": "limits",
    "constituent": "constituents",
    "pin": "pins",
}
BY_INGREDIENT = ("limits", "pins")
Table = MutableMapping[str, Any]


def edited(
    text: str,
    wish: Edit,
    scenario: Scenario,
    catalogue: Catalogue,
    rules: Iterable[Rule],
    *,
    by_id: bool = False,
) -> str:
    """Return the text of a scenario file with a wish written into it.

    Parameters
    ----------
    scenario, catalogue, rules
        As they were read from that text.
    by_id : bool
        Write a limit under ``[eased]``, by the rule's id, wherever it was asked for.

    Raises
    ------
    InputError
        If it names nothing that is there, or the file has a shape that cannot be
        edited.
    """
    try:
        file = tomlkit.parse(text)
        _write(file, wish, scenario, catalogue, rules, by_id=by_id)
        told = tomlkit.dumps(file)
    except (TOMLKitError, TypeError) as error:
        wrong, fix = "cannot be changed from here as it is written", "edit it by hand"
        raise InputError([Problem(wrong, scenario.file, fix=fix)]) from error
    if told.endswith("\n\n") and not text.endswith("\n\n"):
        return told.rstrip("\n") + "\n"  # left of a table that went
    return told


def _write(
    file: Table,
    wish: Edit,
    scenario: Scenario,
    catalogue: Catalogue,
    rules: Iterable[Rule],
    *,
    by_id: bool,
) -> None:
    match wish:
        case Limit():
            found = next((each for each in rules if each.id == wish.rule), None)
            if found is None or not found.may_ease:
                raise _unknown(wish.rule, "is no rule here whose limit can be moved")
            _move(file, found, wish.to, catalogue, by_id=by_id)
        case LeaveOut():
            key = _ingredient(wish.ingredient, catalogue)
            out = _switched(scenario.exclude.ingredients, key, on=wish.out)
            names = [catalogue.ingredients[each].name for each in out]
            _table(file, "exclude")["ingredients"] = names
        case KeepOut():
            if wish.allergen not in catalogue.allergens:
                raise _unknown(wish.allergen, "is no allergen of the catalogue")
            out = _switched(scenario.exclude.allergens, wish.allergen, on=wish.out)
            _table(file, "exclude")["allergens"] = list(out)
        case PinAt():
            key = _ingredient(wish.ingredient, catalogue)
            _pin(file, key, wish.at, catalogue)
        case AimAt():
            _table(file, "aim")["order"] = list(wish.order)
        case MadeAs():
            _made_as(file, " ".join(wish.product.split()), scenario)
        case SoldIn():
            file["market"] = list(wish.markets)
        case KeptIn():
            _kept_in(file, wish.zone, scenario)


def _made_as(file: Table, product: str, scenario: Scenario) -> None:
    """Write what it is made as, and its use where the words tell another."""
    if not product:
        wrong, fix = "is empty", 'write what it is, as in "lip balm"'
        raise InputError([Problem(wrong, field="product", fix=fix)])
    file["product"] = product
    use = use_of(product)
    if use is not None and use != scenario.use:
        file["use"] = use


def _kept_in(file: Table, zone: str | None, scenario: Scenario) -> None:
    """Write the climate; one that another file names cannot be taken away."""
    if zone is not None:
        _table(file, "climate")["zone"] = zone
    elif isinstance(file.get("climate"), MutableMapping):
        del file["climate"]
    elif scenario.zone is not None:
        wrong, fix = "is named by the file that this one extends", "choose another"
        raise InputError(
            [Problem(wrong, field="climate", found=scenario.zone, fix=fix)]
        )


def _unknown(found: str, wrong: str) -> InputError:
    return InputError([Problem(wrong, found=found, fix="open the scenario again")])


def _ingredient(key: str, catalogue: Catalogue) -> str:
    if key not in catalogue.ingredients:
        raise _unknown(key, "is no ingredient of the catalogue")
    return key


def _switched(found: tuple[str, ...], name: str, *, on: bool) -> tuple[str, ...]:
    rest = tuple(each for each in found if each != name)
    return (*rest, name) if on else rest


def _table(file: Table, name: str) -> Table:
    """Return a table of the file, which is made at its end where there is none."""
    found = file.get(name)
    if not isinstance(found, MutableMapping):
        new = tomlkit.table()
        new.trivia.indent = "\n"  # an empty line above, which goes with it
        file[name] = new
    made: Table = file[name]
    return made


def _entry(
    table: Mapping[str, Any], wanted: str, spell: Callable[[str], str]
) -> str | None:
    """Return how a table names what is wanted, if it does."""
    return next((each for each in table if spell(each) == wanted), None)


def _move(
    file: Table, rule: Rule, to: float, catalogue: Catalogue, *, by_id: bool
) -> None:
    """Write a limit where it was asked for, or by the rule's id."""
    eased = file.get("eased")
    if isinstance(eased, MutableMapping) and rule.id in eased:
        del eased[rule.id]
        if not eased:
            del file["eased"]
    about, table = rule.about, TABLES.get(rule.kind)
    if by_id:
        pass
    elif isinstance(about, Window):
        if _window(file, rule, about, to):
            return
    elif table == "pins" and isinstance(about, Bound):
        _pin(file, about.what, to, catalogue)
        return
    elif table is not None and isinstance(about, Bound):
        _bound(_table(file, table), table, rule.side, about.what, to, catalogue)
        return
    _table(file, "eased")[rule.id] = _plain(to)


def _bound(
    table: Table, name: str, side: str, what: str, to: float, catalogue: Catalogue
) -> None:
    entry = _entry(table, what, _speller(name, catalogue))
    if entry is None:
        entry = _name(name, what, catalogue)
        table[entry] = tomlkit.inline_table()
    table[entry][side] = _plain(to)


def _speller(table: str, catalogue: Catalogue) -> Callable[[str], str]:
    if table in BY_INGREDIENT:
        return lambda name: catalogue.find(name) or name
    return fold


def _name(table: str, what: str, catalogue: Catalogue) -> str:
    known = catalogue.ingredients.get(what) if table in BY_INGREDIENT else None
    return what if known is None else known.name


def _pin(file: Table, key: str, at: float | None, catalogue: Catalogue) -> None:
    """Pin an ingredient; one that another file pins is let go by ``false``."""
    table = _table(file, "pins")
    entry = _entry(table, key, _speller("pins", catalogue))
    if at is None and entry is not None and table[entry] is not False:
        del table[entry]
    else:
        name = entry or catalogue.ingredients[key].name
        table[name] = False if at is None else _plain(at)


def _window(file: Table, rule: Rule, about: Window, to: float) -> bool:
    """Write the side of the window that this file asks for; whether it is there."""
    asked = rule.limit if rule.eased_from is None else rule.eased_from
    found = [
        row
        for row in file.get("windows", [])
        if fold(str(row.get("property", ""))) == fold(about.property)
        and row.get(rule.side) == asked
    ]
    if len(found) == 1:
        found[0][rule.side] = _plain(to)
    return len(found) == 1


def _plain(number: float) -> float | int:
    """Return a number as a maker writes it: 40, not 40.0."""
    return int(number) if float(number).is_integer() else number
