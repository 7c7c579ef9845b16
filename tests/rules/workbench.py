"""Tiny catalogues and scenarios, built in Python, that tests change a line of.

An ingredient is named by its key; its price is 1 per kg unless a test gives another.
"""

from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.kinds.ratios import Ratio
from optimiser.domain.law import SharedLimit, SubstanceLimit
from optimiser.domain.material import (
    AllergenStatus,
    Figure,
    Ingredient,
    Lot,
    Origin,
    PackPrice,
    UsageLimit,
)
from optimiser.domain.scenario import (
    Aim,
    Bound,
    Choice,
    Scenario,
    Window,
)
from optimiser.explaining import check, formulate
from optimiser.presenting.notes import notes
from optimiser.rules import build, complete

AUTHORITIES = ("EU", "GB", "US", "AU", "CA")
CSV = Origin("catalogues/materials/test.csv", row=2, field="value")
LAW = Origin("catalogues/markets/preservatives.csv", row=7, field="max_percent")


def toml(field):
    return Origin("test.toml", field=field)


def figure(value, low=None, high=None, *, unit="%", evidence="measured", source="book"):
    """A figure whose spread is nothing unless given."""
    low = value if low is None else low
    high = value if high is None else high
    return Figure(value, low, high, unit, evidence, (source,), CSV)


def pack(key, price, day=None):
    return PackPrice(key, 1.0, price, 0.0, "EUR", day, CSV)


def ingredient(key, category="liquid oil", **more):
    name = key.replace("_", " ")
    return Ingredient(key, name, None, category, Origin(CSV.file, row=2), **more)


def catalogue(categories, *, prices=None, figures=None, contents=None, **more):
    """A catalogue of ingredient -> category (or a whole Ingredient).

    ``prices`` is ingredient -> money per kg, None for none known; ``figures`` is
    property -> ingredient -> number, Figure, or {deg C: either}; ``contents`` is
    constituent -> ingredient -> number or Figure.
    """
    listed = {
        key: each if isinstance(each, Ingredient) else ingredient(key, each)
        for key, each in categories.items()
    }
    known = dict.fromkeys(listed, 1.0) | (prices or {})
    return Catalogue(
        ingredients=listed,
        figures={
            name: {key: _points(each) for key, each in values.items()}
            for name, values in (figures or {}).items()
        },
        contents={
            name: {key: _figure(each) for key, each in values.items()}
            for name, values in (contents or {}).items()
        },
        limits=tuple(more.get("limits", ())),
        allergens=more.get("allergens", {}),
        substance_limits=tuple(more.get("substance_limits", ())),
        shared_limits=tuple(more.get("shared_limits", ())),
        scent_allergens=(),
        zones={},
        prices={k: (pack(k, p),) for k, p in known.items() if p is not None},
        stock=tuple(Lot(key, "A1", kg, None, CSV) for key, kg in more.get("stock", ())),
        currency="EUR",
        sources={},
    )


def _figure(each):
    return each if isinstance(each, Figure) else figure(float(each))


def _points(each):
    if isinstance(each, dict):
        return {at: _figure(number) for at, number in each.items()}
    return {None: _figure(each)}


def scenario(**more):
    """A leave-on scenario of 1 kg that seeks the least cost, without any rules."""
    plain = Scenario(
        title="Test",
        file="test.toml",
        workshop="demo",
        use="leave-on",
        markets=(),
        batch_kg=1.0,
        aims=(Aim("cost"),),
    )
    aims = tuple(
        each if isinstance(each, Aim) else Aim(each) for each in more.pop("aims", ())
    )
    return replace(plain, aims=aims or plain.aims, **more)


def bound(what, low=None, high=None, of="product", why=None, *, table="bands"):
    return Bound(what, low, high, of, why, toml(f"{table}.{what}"))


def pin(what, share):
    return Bound(what, share, share, "product", None, toml(f"pins.{what}"))


def window(name, low=None, high=None, *, at=None, over="product", at_text=None):
    return Window(name, at, at_text, over, low, high, None, toml("windows[1]"))


def ratio(name, first, second, low=None, high=None):
    sets = frozenset(first), frozenset(second)
    return Ratio(name, *sets, low, high, None, toml("ratios[1]"))


def choice(what, at_least=None, at_most=None):
    return Choice(what, at_least, at_most, None, toml(f"choices.{what}"))


def usage(key, whose, high, *, low=None, use="any", of="product"):
    return UsageLimit(key, whose, use, low, high, of, "supplier", "sheet", CSV)


def law(name, high, factors, *, market="EU", use="any", counted_as=None):
    return SubstanceLimit(
        market, name, "preservative", use, high, counted_as, factors, "Act", "4",
        "act", LAW,
    )  # fmt: skip


def shared(group, caps, *, market="any", use="leave-on"):
    return SharedLimit(market, group, use, caps, "Standards", "standards", LAW)


def status(key, allergen, flag, **listed):
    """An allergen status; an authority not named is unknown."""
    by = {authority: listed.get(authority) for authority in AUTHORITIES}
    return AllergenStatus(key, allergen, by, flag, "lists", CSV)


def rules_of(asked, known, chosen=None):
    """Rules by id, over every ingredient of the catalogue unless some are named."""
    chosen = tuple(known.ingredients) if chosen is None else chosen
    return {rule.id: rule for rule in build(asked, known, chosen).rules}


def values(asked, known, formula):
    """What each rule says of a formula, by id: (value, slack)."""
    programme = build(asked, known, tuple(known.ingredients))
    amounts = complete(programme, formula)
    return {
        rule.id: (rule.value(amounts), rule.slack(amounts)) for rule in programme.rules
    }


def percent(answer):
    """The formula of an answer by key, in percent."""
    assert answer.status == "answered", getattr(answer, "rules", answer)
    return {line.ingredient: line.percent for line in answer.formula if line.percent}


def best(asked, known):
    """The best formula by key, in percent."""
    return percent(formulate(asked, known))


def broken(formula, asked, known):
    """The ids of the rules that a formula breaks."""
    checked = check(formula, asked, known)
    found = [
        line.rule.id
        for line in checked.lines
        if line.slack is not None
        and line.slack < -1e-6 * max(1.0, abs(line.rule.limit))
    ]
    assert (checked.status == "broken") == bool(found)
    return found


def only_these(known, keys):
    """A catalogue with no other ingredients than these."""
    return replace(known, ingredients={key: known.ingredients[key] for key in keys})


def replace_prices(known, **prices):
    """A catalogue with some prices changed, money per kg."""
    packs = {key: (pack(key, price),) for key, price in prices.items()}
    return replace(known, prices={**known.prices, **packs})


def notes_of(answer):
    """What is said beside the figures of an answer or a checked formula."""
    return notes(answer.basis, [("", answer.properties)])
