"""A whole catalogue: materials, markets and one workshop, checked together."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from pathlib import Path
from typing import TypeVar

from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue, Source
from optimiser.domain.caution import Caution
from optimiser.domain.law import SubstanceLimit
from optimiser.domain.material import (
    AllergenStatus,
    Ingredient,
    Lot,
    Origin,
    PackPrice,
    Supplier,
)
from optimiser.domain.recipe import Span, Volume
from optimiser.errors import InputError, Problem
from optimiser.reading import (
    cautions,
    duties,
    fats,
    figures,
    markets,
    materials,
    workshops,
)
from optimiser.reading.currencies import Money, read_currency
from optimiser.reading.degrees import read_fahrenheit
from optimiser.reading.disk import is_folder, real_path
from optimiser.reading.figures import contents_of, figures_of
from optimiser.reading.folders import Folder, Ground, read_sources, source_names
from optimiser.reading.infusions import infusions, lent, with_their_oils
from optimiser.reading.name_reader import NameReader
from optimiser.reading.names import Names
from optimiser.reading.substances import called_as_the_law, with_named

__all__ = ["gather_catalogue", "read_catalogue"]

# What is bought as a liquid by makers; other things fill a measure loosely or not.
POURED = frozenset(
    {"liquid oil", "water", "humectant", "scent", "antioxidant", "preservative"}
)
Key = TypeVar("Key")
Item = TypeVar("Item")


def read_catalogue(
    folder: Path,
    workshop: str | None,
    *,
    calibrated: bool = True,
    shelf: list[Problem] | None = None,
) -> Catalogue:
    """Return everything known: materials, law, and one workshop's own.

    Parameters
    ----------
    folder : Path
        The folder that holds ``materials``, ``markets`` and ``workshops``.
    workshop : str or None
        A folder of ``workshops``; None for no prices, no stock and no own rows.
    calibrated : bool
        Whether the workshop's calibration.csv counts.
    shelf : list of Problem, optional
        Gains what is wrong with prices, stock and the scale; the rows are then left
        out instead of refused, for those who ask for none of them.

    Returns
    -------
    Catalogue
        In canonical units; origins are told from the folder's name on.

    Raises
    ------
    InputError
        With every problem of every file.
    """
    problems: list[Problem] = []
    catalogue = gather_catalogue(
        Path(folder), workshop, problems, calibrated=calibrated, shelf=shelf
    )
    if problems:
        raise InputError(problems)
    return catalogue


def gather_catalogue(
    folder: Path,
    workshop: str | None,
    problems: list[Problem],
    asked: Origin | None = None,
    *,
    calibrated: bool = True,
    shelf: list[Problem] | None = None,
    book: Path | None = None,
) -> Catalogue:
    """Return what could be read of a catalogue; adds its problems to the list.

    ``asked`` is where the workshop was asked for, if that was in a file; ``shelf``
    gains what is wrong with its prices, stock and scale, where that may wait. The
    sheets of ``book`` are taken for the workshop's own tables, where it is given.
    """
    shown = folder.name or real_path(folder).name
    top = Folder(folder, shown, problems)
    if not is_folder(folder):
        fix = "name the folder that holds materials, markets and workshops"
        problems.append(Problem("is not a folder", shown, fix=fix))
        return _empty()
    own = None
    if workshop is not None:
        own = workshops.find_workshop(top.inside("workshops"), workshop, asked)
    if own is not None:
        own = replace(own, book=book)
    return _Gathering(top, own).catalogue(calibrated=calibrated, shelf=shelf)


class _Gathering:
    """The reading of one catalogue, the maker's own rows over the shared ones."""

    def __init__(self, top: Folder, own: Folder | None) -> None:
        self.root, self.problems = top.folder, top.problems
        self.shared, self.own = top.inside("materials"), own
        self.law = top.inside("markets")
        self._volumes: Mapping[tuple[str, str], Volume] | None = None
        self.ground, self.own_ground, self.law_ground = self._grounds()

    def _grounds(self) -> tuple[Ground, Ground, Ground]:
        """Read sources and ingredients; return what the rows are checked against."""
        sources: dict[str, Source] = {}
        whole = read_sources(self.shared, sources)
        of_materials = source_names(dict(sources)) if whole else None
        whole = (self.own is None or read_sources(self.own, sources)) and whole
        of_own = source_names(dict(sources)) if whole else None
        law: dict[str, Source] = {}
        of_law = source_names(law) if read_sources(self.law, law) else None
        self._compare(sources, law)
        self.sources = law | sources
        names = self._ingredients(of_materials, of_own)
        return (
            Ground(names, of_materials),
            Ground(names, of_own, own=True),
            Ground(None, of_law),
        )

    def _compare(
        self, sources: Mapping[str, Source], law: Mapping[str, Source]
    ) -> None:
        """Say which keys stand for one reference here and another there."""
        for key, source in law.items():
            known = sources.get(key)
            if known is not None and known.reference != source.reference:
                wrong = f"stands for another reference in {self.shared.shown}"
                fix = "give one of the two another key"
                shown = f"{self.law.shown}/sources.csv"
                self.problems.append(Problem(wrong, shown, found=key, fix=fix))

    def _ingredients(self, sources: Names | None, own: Names | None) -> Names | None:
        """Read the ingredients; return their names, or None if that failed."""
        listed = materials.read_ingredients(self.shared, sources)
        self.ingredients, whole = listed.found, listed.whole
        self.mine: tuple[Ingredient, ...] = ()
        spellings = listed.spellings
        if self.own is not None:
            mine = materials.read_ingredients(self.own, own, listed.found)
            self.ingredients |= mine.found
            self.mine = tuple(mine.found.values())
            spellings, whole = spellings | mine.spellings, whole and mine.whole
        place = None if self.own is None else self.own.folder
        known = replace(_empty(), ingredients=self.ingredients)
        self.reader = NameReader(self.shared.folder.parent, place, known)
        names = materials.ingredient_names(
            self.ingredients,
            spellings,
            self.problems,
            self.reader.read,
            self.reader.left_open,
        )
        self.ingredients = with_their_oils(self.ingredients, names, self.problems)
        return names if whole else None

    def catalogue(self, *, calibrated: bool, shelf: list[Problem] | None) -> Catalogue:
        """Return the catalogue; its problems are in the list of the folder.

        Those of prices, stock and scale are in ``shelf``, where there is one.
        """
        properties, figures_whole = self._over(figures.read_properties)
        if calibrated and self.own is not None:
            properties |= figures.read_properties(
                self.own, self.own_ground, figures.CALIBRATION
            )
        contents, contents_whole = self._over(figures.read_constituents)
        limits, _ = self._over(materials.read_limits)
        statuses, _ = self._over(materials.read_allergens, materials.status_over)
        numbers, known = figures_of(properties), contents_of(contents)
        named = self.ground.ingredients is not None  # else some names were not found
        made_in = {k: x.made_in for k, x in self.ingredients.items() if x.made_in}
        densities = workshops.Densities(
            lent(numbers.get("density", {}), made_in),
            figures_whole and named,
            self._filled,
        )
        prices, lots, stock, money, suppliers = self._workshop(densities, shelf)
        whole = contents_whole and named
        law = self._limits(known if whole else None)
        scents = self._law(markets.read_scent_allergens)
        called = called_as_the_law(self.mine, law, scents, known)
        known_of_each = Catalogue(
            ingredients=self.ingredients,
            figures=numbers,
            contents=with_named(known, called, self.ingredients),
            limits=tuple(limit for rows in limits.values() for limit in rows),
            allergens=_by_allergen(statuses),
            substance_limits=law,
            shared_limits=self._law(markets.read_shared_limits),
            scent_allergens=scents,
            duties=self._law(duties.read_duties),
            zones=markets.read_climate(self.law, self.law_ground),
            prices=prices,
            stock=stock,
            lots=lots,
            currency=money.code,
            uncounted=money.uncounted,
            sources=self.sources,
            cautions=self._cautions(known if whole else None),
            read_name=self.reader.read,
            name_left_open=self.reader.left_open,
            load_fats=fats.fat_loader(
                self.shared, self.ground, self.own, self.own_ground
            ),
            suppliers=suppliers,
            may_be=called.perhaps,
            fahrenheit=self.own is not None and read_fahrenheit(self.own),
        )
        return infusions(known_of_each)

    def _over(
        self,
        read: Callable[[Folder, Ground], dict[Key, Item]],
        over: Callable[[Item, Item], Item] | None = None,
    ) -> tuple[dict[Key, Item], bool]:
        """Return shared rows by subject, the maker's own in place of or ``over`` them.

        Also returns whether all rows were without problems.
        """
        before = len(self.problems)
        found = read(self.shared, self.ground)
        if self.own is not None:
            for subject, own in read(self.own, self.own_ground).items():
                shared = found.get(subject)
                if over is not None and shared is not None:
                    found[subject] = over(own, shared)
                else:
                    found[subject] = own
        return found, len(self.problems) == before

    def _law(
        self, read: Callable[[Folder, Ground], tuple[Item, ...]]
    ) -> tuple[Item, ...]:
        """Return rows of law: the shared ones, then those of the maker's own markets.

        They stand in a folder "markets" of the workshop, in tables of the same names.
        """
        found = read(self.law, self.law_ground)
        return found if self.own is None else (*found, *read(*self._own_law()))

    def _own_law(self) -> tuple[Folder, Ground]:
        """Return the maker's own folder of markets, and what its rows may name."""
        if self.own is None:
            return self.law, self.law_ground
        read = (self.law_ground.sources, self.own_ground.sources)
        whole = all(names is not None for names in read)
        named = source_names(self.sources) if whole else None
        return self.own.inside("markets", own=True), Ground(None, named, own=True)

    def _limits(self, contents: Collection[str] | None) -> tuple[SubstanceLimit, ...]:
        """Return limits on substances, those of the maker's own markets too."""
        found = markets.read_substance_limits(self.law, self.law_ground, contents)
        if self.own is None:
            return found
        own = markets.read_substance_limits(*self._own_law(), contents, found)
        return (*found, *own)

    def _cautions(self, contents: Collection[str] | None) -> tuple[Caution, ...]:
        """Return the cautions, the maker's own in place of those of the same key."""
        found = cautions.read_cautions(self.shared, self.ground, contents)
        if self.own is not None:
            found |= cautions.read_cautions(self.own, self.own_ground, contents)
        return tuple(each for rows in found.values() for each in rows)

    def _filled(self, ingredient: str) -> Span | None:
        """Return what a millilitre of a liquid weighs as spoons tell it, [g/ml]."""
        from optimiser.reading.recipes.knowledge import read_volumes  # noqa: PLC0415 - seldom needed

        if self._volumes is None:
            self._volumes = read_volumes(self.root, self.ingredients, self.problems)
        known = self.ingredients.get(ingredient)
        category = "" if known is None else known.category
        if category not in POURED:
            return None
        places = ((ingredient, ""), (category, ""))
        found = next((self._volumes[x] for x in places if x in self._volumes), None)
        return None if found is None else found.density

    def _workshop(
        self, densities: workshops.Densities, shelf: list[Problem] | None
    ) -> tuple[
        dict[str, tuple[PackPrice, ...]],
        tuple[Lot, ...],
        tuple[Lot, ...],
        Money,
        dict[str, Supplier],
    ]:
        """Return prices, lots as written and left, their money and suppliers."""
        if self.own is None:
            return {}, (), (), Money(""), {}
        own = self.own if shelf is None else replace(self.own, problems=shelf)
        code = read_currency(own)
        ground = self.own_ground
        sellers = workshops.read_suppliers(own)
        prices, money = workshops.read_prices(own, ground, densities, code, sellers)
        lots = workshops.read_lots(own, ground, densities, money.code)
        return prices, lots, workshops.read_stock(own, lots), money, sellers or {}


def _by_allergen(
    statuses: Mapping[tuple[str, ...], AllergenStatus],
) -> dict[str, dict[str, AllergenStatus]]:
    """Return allergen -> ingredient -> status."""
    found: dict[str, dict[str, AllergenStatus]] = {}
    for status in statuses.values():
        found.setdefault(status.allergen, {})[status.ingredient] = status
    return found


def _empty() -> Catalogue:
    """Return a catalogue that knows nothing."""
    return Catalogue({}, {}, {}, (), {}, (), (), (), {}, {}, (), "", {})
