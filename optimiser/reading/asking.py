"""What the reading of one scenario shares: its content, its names, its problems."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cached_property
from typing import TYPE_CHECKING, TypeVar

from optimiser.domain.catalogue import Catalogue, fold
from optimiser.domain.material import CATEGORIES, PARTS, UNKNOWN, Origin, rest_of
from optimiser.domain.properties import GREATEST
from optimiser.domain.unknown import may_hold
from optimiser.errors import Problem
from optimiser.reading.names import Names

if TYPE_CHECKING:
    from optimiser.reading.layers import Merged
    from optimiser.reading.scenario_files import ScenarioFile, SideTable

__all__ = ["BY_INGREDIENT", "GREATEST", "Asking"]

Table = TypeVar("Table")
Sides = tuple[float | None, float | None]
BY_INGREDIENT = ("base", "limits", "pins", "least_if_used")


class Asking:
    """A scenario on its way to domain values.

    Parameters
    ----------
    shown : str
        Name of the scenario's file in messages.
    merged : Merged
        Content and origins of the scenario's files.
    file : ScenarioFile
        The same content, typed.
    catalogue : Catalogue
        Where names are looked up.
    shaky : set of str
        Tables of the catalogue that could not be read whole: a name that should
        be in one of them is not called unknown.
    whole : bool
        Whether every file that the scenario extends was read.
    problems : list of Problem
        Gains every problem met.
    """

    def __init__(
        self,
        shown: str,
        merged: Merged,
        file: ScenarioFile,
        catalogue: Catalogue,
        *,
        shaky: set[str],
        whole: bool,
        problems: list[Problem],
    ) -> None:
        self.shown = shown
        self.merged, self.file, self.catalogue = merged, file, catalogue
        self.shaky, self.whole, self.problems = shaky, whole, problems
        self.parts: dict[str, tuple[str, ...]] = dict(PARTS)
        self.parts |= {category: (category,) for category in CATEGORIES}
        spellings = {each.name: key for key, each in catalogue.ingredients.items()}
        for key, each in catalogue.ingredients.items():
            spellings |= dict.fromkeys(each.aliases, key)
        self.ingredients = Names("ingredient", spellings)

    @cached_property
    def _files(self) -> Mapping[Origin, Mapping[str, str]]:
        """In which file each side of a limit was written, by where its entry was."""
        return {self.merged.origins[at]: x for at, x in self.merged.limits.items()}

    def files(self, origin: Origin) -> Mapping[str, str]:
        """Return the files of sides that were not written where their entry was."""
        known = self._files.get(origin, {})
        return {side: file for side, file in known.items() if file != origin.file}

    def origin(self, *place: str | int) -> Origin:
        """Return where an entry was written; its table or file if that is unknown."""
        for end in range(len(place), 0, -1):
            found = self.merged.origins.get(place[:end])
            if found is not None:
                return found
        return Origin(self.shown)

    def tables(self, key: str, shape: type[Table]) -> Iterator[tuple[Origin, Table]]:
        """Yield the tables below a key of a kind of rule of its own, and where each is.

        They are one table, a list of them, or tables that the maker names.
        """
        held = getattr(self.file, key)
        entries: Iterable[tuple[tuple[str | int, ...], object]] = [((), held)]
        if isinstance(held, list):
            entries = (((place,), table) for place, table in enumerate(held))
        elif isinstance(held, dict):
            entries = (((name,), table) for name, table in held.items())
        for place, table in entries:
            if isinstance(table, shape):
                yield self.origin(key, *place), table

    def say(
        self,
        origin: Origin,
        wrong: str,
        fix: str,
        found: str | None = None,
        key: str = "",
    ) -> None:
        """Add a problem with something written at an origin."""
        field = f"{origin.field}{key}" if origin.field else key.lstrip(".") or None
        self.problems.append(Problem(wrong, origin.file, None, field, found, fix))

    def say_vain(self) -> None:
        """Say which entries are set to false with nothing to take out."""
        for origin, name in self.merged.vain:
            table = (origin.field or "").partition(".")[0]
            if self.sound(table):
                fix = "write the name as the extended file does, or take the line out"
                self.say(origin, "takes nothing out", fix, f"{name} = false")

    def sound(self, *tables: str) -> bool:
        """Return whether tables are all there, so that what is absent is missing."""
        return self.whole and not self.merged.broken & set(tables)

    def written(self, origin: Origin, table: str) -> str:
        """Return an entry's name as it was written."""
        return (origin.field or "").removeprefix(f"{table}.")

    def ingredient(self, text: str, origin: Origin, key: str = "") -> str | None:
        """Return the key of an ingredient; None after a problem."""
        found = self.catalogue.find(text)
        if found is not None:
            return found
        if "ingredients.csv" not in self.shaky:
            fix = "correct the name, or add the ingredient to ingredients.csv"
            name = fold(text)
            if name in self.parts and name not in self.catalogue.ingredients:
                fix = "name an ingredient; this is a group of them"
                self.say(origin, "is not an ingredient", fix, text, key)
            else:
                several = self.catalogue.name_left_open(text)
                if several is not None:
                    fix = "name the one ingredient that it is"
                wrong = several or self.ingredients.wrong(text)
                self.say(origin, wrong, fix, text, key)
        return None

    def one_of(
        self,
        what: str,
        known: Mapping[str, object] | tuple[str, ...],
        text: str,
        origin: Origin,
        key: str = "",
    ) -> str | None:
        """Return a name of a short list; None after a problem."""
        names = Names.of(what, known)
        found = names.find(text)
        if found is None:
            listed = ", ".join(list(known)[:20])
            listed += f" and {len(known) - 20} more" if len(known) > 20 else ""
            fix = f"the known ones are {listed}" if listed else "none is known"
            self.say(origin, names.wrong(text), fix, text, key)
        return found

    def part(self, text: str, origin: Origin, key: str = "") -> str | None:
        """Return the name of a part: built-in, own, category or ingredient key."""
        name = fold(text)
        if name in self.parts:
            return name
        found = self.catalogue.find(text)
        if found is not None:
            self.parts[found] = (found,)
            return found
        if "ingredients.csv" in self.shaky or not self.sound("parts"):
            return None
        known = (*self.parts, *self.catalogue.names())
        wrong = Names.of("part", known).wrong(text)
        fix = "name a category, an ingredient, a part of [parts], or one of: "
        self.say(origin, wrong, fix + ", ".join(PARTS), text, key)
        return None

    def rest_of(self, part: str, aside: Sequence[str]) -> str:
        """Return the name of a part without some ingredients, which it now has."""
        known = self.catalogue.ingredients
        names = [known[key].name for key in dict.fromkeys(aside)]
        last = f" and {names.pop()}" if len(names) > 1 else ""
        rest = f"{part} without {', '.join(names)}{last}"
        self.parts[rest] = rest_of(self.parts[part], aside, known)
        return rest

    def own_parts(self) -> dict[str, tuple[str, ...]]:
        """Return the built-in parts and the maker's own."""
        return {
            name: held
            for name, held in self.parts.items()
            if name in PARTS or held != (name,)
        }

    def keys_of(self, part: str) -> frozenset[str]:
        """Return the keys of the ingredients in a part."""
        held = self.parts[part]
        return frozenset(
            each.key
            for each in self.catalogue.ingredients.values()
            if each.category in held or each.key in held
        )

    def may_be_in(self, part: str) -> frozenset[str]:
        """Return the keys of what is unknown and may belong to a part."""
        known = (
            self.catalogue.ingredients.values() if may_hold(self.parts[part]) else ()
        )
        return frozenset(each.key for each in known if each.category == UNKNOWN)

    def percent(self, value: float | None, origin: Origin, key: str = "") -> None:
        """Say what is wrong with a percentage outside 0 to 100."""
        if value is not None and not 0 <= value <= 100:
            wrong = "is negative" if value < 0 else "is more than 100 percent"
            fix = "write a percentage from 0 to 100"
            self.say(origin, wrong, fix, f"{value:g}", key)

    def within(
        self,
        value: float | None,
        least: float,
        most: float,
        origin: Origin,
        key: str = "",
    ) -> None:
        """Say what is wrong with a number outside ``least`` to ``most``."""
        if value is None or least <= value <= most:
            return
        wrong = f"is more than {most:.15g}"
        if value < least:
            wrong = "is negative" if least == 0 else f"is less than {least:.15g}"
        fix = f"write a number from {least:.15g} to {most:.15g}"
        self.say(origin, wrong, fix, f"{value:.15g}", key)

    def sides(
        self,
        low: float | None,
        high: float | None,
        origin: Origin,
        fix: str = "correct one of the two",
    ) -> Sides:
        """Return a lower and an upper side, after saying what is wrong with them."""
        if low is None and high is None and self.whole:
            self.say(origin, "has neither min nor max", "write one of them, or both")
        if low is not None and high is not None and low > high:
            written = [f"min {low:g}", f"max {high:g}"]
            if files := self.files(origin):
                of = (files.get(side, origin.file) for side in ("min", "max"))
                written = [f"{x} ({file})" for x, file in zip(written, of, strict=True)]
            wrong = f"has {written[0]} above {written[1]}"
            self.say(origin, wrong, fix)
        return low, high

    def percent_sides(self, side: SideTable, origin: Origin) -> Sides:
        """Return the two sides of a share, [%]."""
        self.percent(side.min, origin, ".min")
        self.percent(side.max, origin, ".max")
        return self.sides(side.min, side.max, origin)
