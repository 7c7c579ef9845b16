"""What a survey holds: recipes in percent, and what they have in common."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property

from msgspec import Struct

from optimiser.domain.recipe import Amount, Match, Span, WrittenLine
from optimiser.domain.rule import Rule
from optimiser.errors import Problem
from optimiser.explaining.basis import LawLine
from optimiser.studies.survey.remarks import Remark

__all__ = [
    "Band",
    "Base",
    "BaseLine",
    "Fault",
    "Grade",
    "HeldWindow",
    "Influence",
    "Lowered",
    "NearestRecipe",
    "Recipe",
    "RecipeLine",
    "RecipeQuestion",
    "RecipeSum",
    "Structure",
    "Summary",
    "Survey",
    "Wishes",
]


class Wishes(Struct, frozen=True):
    """What the base is for: use, markets, climate, and whose prices count."""

    title: str
    use: str
    markets: tuple[str, ...]
    workshop: str | None
    zone: str | None = None


class RecipeLine(Struct, frozen=True):
    """One line of a recipe as it was understood.

    ``status`` is "read", "no amount" (kept, but left out of the total), "not in the
    product", "left out" (by an answer), or "refused" (its amount cannot be read).
    ``percent`` is its share of the finished product; None unless it was read. Its
    ends are those of the line alone; ``doubt`` also counts that the other lines may
    weigh more or less than read.
    """

    written: WrittenLine
    match: Match
    amount: Amount | None
    status: str
    percent: Span | None
    doubt: Span | None
    sure: str
    remarks: tuple[Remark, ...] = ()

    @property
    def category(self) -> str | None:
        """Its category, the part "butters", or None where nothing is known."""
        return self.match.category

    @property
    def unread(self) -> bool:
        """Whether it is in the recipe, and nothing tells what its name stands for."""
        return self.category in {None, "unknown"} and self.status not in {
            "left out",
            "not in the product",
        }


class RecipeSum(Struct, frozen=True):
    """What a recipe adds up to as written, in "%", "g" or "parts"; None: nothing."""

    value: float | None
    unit: str = ""


NOTHING = Span.exactly(0.0)


class RecipeQuestion(Problem, frozen=True):
    """Something of a recipe that has to be answered before it counts.

    ``about`` is "amount", "name" or "total"; ``line`` the name of the line that it is
    of, as written, and "" where it is of the whole recipe; ``may_be`` what may be
    answered, in words.
    """

    about: str = "amount"
    line: str = ""
    may_be: str = "as written, or leave out"


class Recipe(Struct, frozen=True, dict=True):
    """A recipe in percent of the finished product.

    ``total`` is what it adds up to as written. ``questions`` are what has to be
    answered before it is used; ``left_out`` says why it is not used otherwise, and
    ``fault`` what bands must not learn from it.
    """

    name: str
    product_class: str
    file: str
    lines: tuple[RecipeLine, ...]
    total: RecipeSum
    remarks: tuple[Remark, ...]
    questions: tuple[RecipeQuestion, ...] = ()
    left_out: str | None = None
    structure: str = ""
    fault: Fault | None = None

    @property
    def used(self) -> bool:
        """Whether it counts for bands and base."""
        return not self.questions and self.left_out is None and self.fault is None

    def share(self, *categories: str) -> Span:
        """Return what some categories add up to, percent of the product.

        A sum of several lines is no lower, and no higher, than its lines allow.
        """
        shares = self._shares
        if len(categories) == 1:
            found = shares.get(categories[0], NOTHING)
        else:
            found = NOTHING
            for category, each in shares.items():
                if category in categories:
                    found = found.plus(each)
        return found if found.high < 100.0 else Span(found.low, found.value, 100.0)

    @cached_property
    def _shares(self) -> Mapping[str | None, Span]:
        """What each category adds up to: asked for again and again."""
        sums: dict[str | None, Span] = {}
        for line in self.lines:
            each, category = line.percent, line.match.category
            if each is not None:
                before = sums.get(category)
                sums[category] = each if before is None else before.plus(each)
        return sums


class Summary(Struct, frozen=True):
    """What recipes hold of one category or ingredient, percent of the product.

    ``users`` are the recipes that hold it, of ``among``; figures are over users.
    ``least`` and ``most`` count both ends of ranges; ``near`` counts the users
    within a fifth of the median.
    """

    what: str
    users: tuple[str, ...]
    among: int
    least: float
    lower: float
    median: float
    upper: float
    most: float
    near: int
    least_of: str
    most_of: str


class Influence(Struct, frozen=True):
    """An end of a band that rests on one recipe alone, and where it would be."""

    recipe: str
    side: str
    without: float


class Band(Struct, frozen=True):
    """A proposed band, percent of the product, with the recipes behind it."""

    category: str
    low: float | None
    high: float
    summary: Summary
    influences: tuple[Influence, ...]
    remark: str | None = None


class Fault(Struct, frozen=True):
    """Something in a recipe that a maker would put right first.

    ``value`` is what it has (percent, or points of firmness) of ``names``, and
    ``limit`` what is usual for its ``use``, or keeps a shape ``at`` so many deg C.
    What a recipe seems to lack may be one of the ``unread`` names, so many of which
    nothing is known.
    """

    recipe: str
    kind: str
    value: float = 0.0
    limit: float | None = None
    names: tuple[str, ...] = ()
    use: str | None = None
    at: float | None = None
    unread: int = 0


class BaseLine(Struct, frozen=True):
    """One ingredient of the base, percent; ``centre`` before it was projected.

    ``stands_in`` says for which category it stands where recipes name nothing of
    it, and ``standing`` how much of the centre that is; the rest is named.
    """

    ingredient: str
    percent: float
    centre: float
    stands_in: str | None = None
    standing: float = 0.0


class NearestRecipe(Struct, frozen=True):
    """The recipe nearest to a base: percent by ingredient, and points between them.

    ``missing`` is the percent of it that no ingredient stands for.
    """

    recipe: str
    percents: Mapping[str, float]
    away: float
    missing: float


class Lowered(Struct, frozen=True):
    """An ingredient that the recipes hold more of than a rule on it alone allows."""

    ingredient: str
    centre: float
    ceiling: float
    rule: Rule


class MovedBy(Struct, frozen=True):
    """A rule that the recipes' centre breaks, and what the centre has there."""

    rule: Rule
    value: float
    by_second_opinion: bool = False


class Base(Struct, frozen=True):
    """The recipes' centre, and the nearest formula that keeps every rule.

    ``seen`` are the ingredients that its recipes name or may mean, and its own.
    ``left_open`` is what recipes leave bare and nothing can stand in for, percent by
    category. ``clash``
    holds rules that cannot all be kept; then ``lines`` is empty. ``bands`` and
    ``windows`` are those of the structure that it keeps, with room for what is open;
    ``unfigured`` are ingredients that lack a figure for a window. ``guards`` are those
    of the model that the recipes themselves break, eased to what they hold, percent;
    ``moved_by`` the rules that keep a base far from its centre. ``instead`` is the
    recipe that stands in the place of a centre that no recipe is near, with its
    distance from that; None where the centre is meant.
    """

    lines: tuple[BaseLine, ...]
    moved: float
    clash: tuple[Rule, ...] = ()
    remarks: tuple[Remark, ...] = ()
    seen: tuple[str, ...] = ()
    nearest: NearestRecipe | None = None
    left_open: Mapping[str, float] = {}
    lowered: tuple[Lowered, ...] = ()
    bands: tuple[Band, ...] = ()
    windows: tuple[HeldWindow, ...] = ()
    unfigured: tuple[str, ...] = ()
    guards: Mapping[str, float] = {}
    moved_by: tuple[MovedBy, ...] = ()
    instead: NearestRecipe | None = None


class HeldWindow(Struct, frozen=True):
    """A window that solid recipes keep: a property of their lipids.

    ``at`` is in deg C; ``storage`` says that it is the climate's, ``users`` how many
    recipes its figure is known for.
    """

    name: str
    property: str
    at: float
    storage: bool
    low: float | None
    high: float | None
    users: int


class Structure(Struct, frozen=True):
    """Recipes of one class that are built alike.

    ``tops`` is the most that a recipe gives each ingredient, percent, rounded outward;
    ``least`` what those hold that do nothing without each other.
    """

    name: str
    recipes: tuple[str, ...]
    categories: tuple[Summary, ...]
    ingredients: tuple[Summary, ...]
    bands: tuple[Band, ...]
    tops: Mapping[str, float]
    least: Mapping[str, float] = {}
    windows: tuple[HeldWindow, ...] = ()


class Grade(Struct, frozen=True):
    """A written name, who writes it, what it is taken as and what it may be too.

    ``most`` is the most of it in a recipe, percent of the product.
    """

    written: str
    recipes: tuple[str, ...]
    taken: str
    others: tuple[str, ...]
    most: float


class Survey(Struct, frozen=True):
    """What came of surveying one class of recipes.

    ``recipes`` are those of the class, in order; ``classes`` counts the recipes of
    every class that was read. ``storage`` is the temperature of the climate, [deg C],
    and ``firmness`` what the lipids of each recipe come to there; None where
    a figure is not known. ``law`` is what was looked at of each market's law for the
    base, or is to be kept where there is none.
    ``grades`` are the names that spell several grades.
    """

    product_class: str
    files: tuple[str, ...]
    use: str
    use_assumed: bool
    markets: tuple[str, ...]
    zone: str | None
    workshop: str | None
    recipes: tuple[Recipe, ...]
    classes: Mapping[str, int]
    structures: tuple[Structure, ...]
    chosen: str
    base: Base | None
    faults: tuple[Fault, ...]
    problems: tuple[Problem, ...]
    storage: float | None
    firmness: Mapping[str, Span | None]
    priced: bool = False
    law: tuple[LawLine, ...] = ()
    grades: tuple[Grade, ...] = ()
