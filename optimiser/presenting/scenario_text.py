"""Scenarios that the program writes: around a recipe, eased, or at a point."""

from __future__ import annotations

import json
import math
import textwrap
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from msgspec import Struct

from optimiser.domain.material import UNKNOWN
from optimiser.domain.unknown import FEW
from optimiser.errors import Option, Phrase, phrase
from optimiser.presenting.amounts import FINE, as_text
from optimiser.presenting.notes import AGREED
from optimiser.presenting.words import clean, listed, short
from optimiser.studies.start import HELD, SMALL, left_aside

if TYPE_CHECKING:
    from optimiser.domain.catalogue import Catalogue
    from optimiser.domain.material import Ingredient
    from optimiser.domain.scenario import Scenario
    from optimiser.explaining.answer import WayOut
    from optimiser.reading.recipes.strangers import Strangers
    from optimiser.studies.made import Made
    from optimiser.studies.start import Start, StartWindow

__all__ = [
    "RecipeTold",
    "as_written",
    "eased_scenario",
    "is_start_scenario",
    "let_go",
    "not_judged",
    "pinned_scenario",
    "point_scenario",
    "start_scenario",
    "strangers_told",
]

WIDE = 88
RULES_AROUND = "rules around your recipe"
AGAIN = ("begin again with ", Option("replace"), ".")
LEAST_BATCH, MOST_BATCH = 1.0, 1e9  # g
LEAST_DOSE = 1e-8  # percent: a gram in ten thousand tonnes is none
# As the shipped ones are called, so that a file for the heat takes their place.
NAMES = {"firmness": "firm in a room", "solid fat": "melts on the skin"}


class RecipeTold(Struct, frozen=True):
    """What the maker said of a recipe; ``use_told`` False where use was taken.

    ``exclude`` is what must stay out, as a scenario that was begun from has it.
    ``held`` False writes small doses as limits instead of pins, ``windows`` False
    writes windows as comments: where the rules would clash with them. ``grams`` is
    how much the recipe makes, where it is by weight.
    """

    title: str
    recipe: str
    product: str | None
    use: str
    use_told: bool
    markets: tuple[str, ...]
    workshop: str
    told: tuple[str, ...] = ()
    exclude: Mapping[str, bool | str | list[str]] = {}
    held: bool = True
    windows: bool = True
    grams: float | None = None


def as_written(base: dict[str, float], catalogue: Catalogue) -> dict[str, float]:
    """Return a base as it is written in the file: to 0.1 %, and adding up to 100.

    Small doses, what is unknown, and what a window leaves aside are written to 0.01 %,
    or in two figures, for they are held as they are; the largest amount takes what is
    left.
    """
    found, free = {}, {}
    places = 2
    aside = left_aside(base, catalogue)
    for key, share in base.items():
        held = catalogue.ingredients[key].category in HELD or key in aside
        figures = _places(share) if held or share < SMALL else 1
        found[key] = round(share, figures)
        places = max(places, figures)
        if not held:
            free[key] = share
    largest = max(free or found, key=found.__getitem__)
    found[largest] = round(found[largest] + 100.0 - sum(found.values()), places)
    return {key: share for key, share in found.items() if share > 0.0}


def _places(share: float) -> int:
    """Return the decimals of a small dose: two, or as many as two figures of it take.

    >>> _places(0.66), _places(0.0241), _places(0.00312), _places(0.0)
    (2, 3, 4, 2)
    """
    if share < LEAST_DOSE:
        return 2
    return max(2, 1 - math.floor(math.log10(share)))


def strangers_told(found: Strangers, workshop: str) -> Iterator[str | Phrase]:
    """Yield what a maker is told of names that were guessed."""
    place = f"catalogues/workshops/{workshop}"
    if found.read_as:
        names = listed(tuple(f"'{clean(name)}'" for name in found.read_as))
        yield phrase(
            f"How {names} {'is' if len(found.read_as) == 1 else 'are'} read is a guess:"
            f" if it is wrong, correct {place}/recipe_names.csv and ",
            *AGAIN,
        )
    if found.overruled:
        known = found.catalogue.ingredients
        names = listed(
            tuple(
                f"'{clean(name)}' as {known[key].name}"
                for name, key in found.overruled.items()
            )
        )
        yield (
            f"{place}/recipe_names.csv tells to read {names}, which counts before the"
            " ingredient of that name. Take that one out of ingredients.csv there once"
            " no other scenario of yours names it."
        )
    for each in found.own:
        if each.made_in is not None:
            yield _infusion_told(each, found.catalogue, place)
    own = listed(
        tuple(
            f"{clean(each.name)} (taken as {each.category}, by its name)"
            for each in found.own
            if each.made_in is None and each.category != UNKNOWN
        )
    )
    unknown = tuple(clean(x.name) for x in found.own if x.category == UNKNOWN)
    if unknown:
        yield _unknown_told(unknown, place)
    if own:
        yield phrase(
            f"Not known here, and an ingredient of your own now: {own}. Nothing else is"
            " known of it: no price, figure, content, limit or allergen, and nothing of"
            f" that is judged. Fill in what you know in {place} (GUIDE.md, Add an"
            " ingredient); if the category is wrong, correct ingredients.csv there"
            " and ",
            *AGAIN,
        )


def _unknown_told(names: Sequence[str], place: str) -> Phrase:
    """Return what is made of names that tell nothing, and how to say what they are."""
    it = "It stays" if len(names) == 1 else "They stay"
    first = f'"{names[0]}"' if set(names[0]) & set(",;") else names[0]
    return phrase(
        f"Not known here, and not guessed: {listed(names)}. {it} as in your recipe;"
        f" from {short(FEW)} % on, firmness, melting and density are not judged. What a"
        " trade name is stands on its label, as INCI names: look for those with"
        ' optimiser catalogue show "THE INCI NAMES". Where it is found, add one row to'
        f" {place}/recipe_names.csv: {first},THE NAME THAT IT SHOWS; else write the"
        " category and inci into its row of ingredients.csv there. Then ",
        *AGAIN,
    )


def _infusion_told(each: Ingredient, catalogue: Catalogue, place: str) -> str:
    """Return what an infusion is taken as, and what to write of it."""
    oil = catalogue.ingredients[each.made_in or ""]
    name, made_in = clean(each.name), clean(oil.name)
    known = "" if oil.inci is None else f", which begins {clean(oil.inci)} (and)"
    return (
        f"{name[:1].upper()}{name[1:]} is an infusion of your own, read as the"
        f" {made_in} it is made in: its figures, and their sources, are those of"
        f" {made_in} (made_in in ingredients.csv). What is infused in it is not known."
        f" Write into {place} what you know: its INCI name in ingredients.csv{known};"
        f" its price as a row of prices.csv, {clean(each.key)},1,kg,PRICE"
    )


def start_scenario(start: Start, about: RecipeTold, catalogue: Catalogue) -> str:
    """Return the scenario (TOML); it needs no other file but the catalogue's."""
    lines = [
        *_comment(
            f"{about.title}: {RULES_AROUND} {about.recipe}, written by"
            " optimiser begin. Change what you know better."
        ),
        *[line for each in about.told for line in _comment(each)],
        *_keys(about),
        *_aim(start),
        "[base]                     # your recipe, percent of the finished product",
        *_amounts(start.base, catalogue),
        "",
        "[amounts]                  # whole steps, percent, as a scale likes them",
        "step         = 0.5",
        "scent        = 0.1",
        "preservative = 0.1",
        "antioxidant  = 0.1",
        "",
        *_no_traces(start, catalogue),
        *_exclude(about),
        *_only(start, catalogue),
        *_bands(start),
        *_pins(start, about, catalogue),
        *_windows(start, about, catalogue),
        *_guard(start, about),
    ]
    return "\n".join(lines).rstrip() + "\n"


def _no_traces(start: Start, catalogue: Catalogue) -> list[str]:
    """Return that nothing comes in as a trace; what the base has less of may stay."""
    rows = [f"default = {short(start.trace)}"]
    if start.least:
        rows += _amounts(start.least, catalogue)
    return ["[least_if_used]            # none of it, or at least so much", *rows, ""]


def _exclude(about: RecipeTold) -> list[str]:
    """Return what must stay out, where the recipe's own file says so."""
    if not about.exclude:
        return []
    rows = [f"{key} = {_value(value)}" for key, value in about.exclude.items()]
    return ["[exclude]                  # as your file has it", *rows, ""]


def _value(value: bool | str | list[str]) -> str:
    if isinstance(value, list):
        return f"[{', '.join(map(_text, value))}]"
    return _text(value) if isinstance(value, str) else str(value).lower()


def _comment(text: str) -> list[str]:
    return textwrap.wrap(
        clean(text),
        WIDE,
        initial_indent="# ",
        subsequent_indent="#   ",
        break_on_hyphens=False,
    )


def _text(value: str) -> str:
    return json.dumps(clean(value), ensure_ascii=False)


def _keys(about: RecipeTold) -> list[str]:
    lines = [f"title    = {_text(about.title)}"]
    if about.product is not None:
        lines.append(f"product  = {_text(about.product)}")
    lines.append(f"workshop = {_text(about.workshop)}")
    note = ""
    if not about.use_told:
        note = "   # nobody said, so the stricter one is taken"
    elif about.product is not None:
        note = "   # read from the product; change it if yours is not"
    lines.append(f"use      = {_text(about.use)}{note}")
    note = "" if about.markets else '   # no law is checked until you name one: ["EU"]'
    markets = ", ".join(map(_text, about.markets))
    return [*lines, f"market   = [{markets}]{note}", "", *_batch(about.grams)]


def _batch(grams: float | None) -> list[str]:
    """Return how much is made: as much as the recipe does, or a kilogram."""
    if grams is None or not LEAST_BATCH <= grams <= MOST_BATCH:
        return ["[batch]", 'size = "1 kg"', ""]
    size = (
        f"{short(grams, 4)} g" if grams < 1000.0 else f"{short(grams / 1000.0, 4)} kg"
    )
    return ["[batch]", f'size = "{size}"   # as your recipe makes', ""]


def is_start_scenario(text: str) -> bool:
    """Whether a file begins as a scenario around a recipe does."""
    first = " ".join(text.lstrip("\ufeff").partition("title")[0].split())
    return first.startswith("# ") and RULES_AROUND in first.replace(" # ", " ")


def _aim(start: Start) -> list[str]:
    told = (
        "As near your recipe as the rules allow, like for like, and of no more"
        " ingredients than that takes"
    )
    order = 'order = ["change", "kind change", "count", "cost"]'
    more = ', then as cheap. For the cheapest within the bands: order = ["cost"].'
    if not start.priced:
        more = ". Cost can be an aim once prices.csv has a price for all of it."
        order = 'order = ["change", "kind change", "count"]'
    return ["[aim]", *_comment(told + more), order, ""]


def _amounts(shares: Mapping[str, float], catalogue: Catalogue) -> list[str]:
    names = {key: _text(catalogue.ingredients[key].name) for key in shares}
    wide = max(map(len, names.values()))
    return [
        f"{names[key]:<{wide}} = {_share(share, catalogue, key)}"
        for key, share in shares.items()
    ]


def _share(share: float, catalogue: Catalogue, key: str) -> str:
    """Return percent as text: to 0.01, and to more decimals where it has them."""
    if abs(share - round(share, 2)) > LEAST_DOSE:
        return f"{share:.9f}".rstrip("0")
    return as_text(round(share * 100), catalogue.ingredients[key].category in FINE)


def _bands(start: Start) -> list[str]:
    if not start.bands:
        return []
    told = (
        "The share of each category in your recipe, give or take a quarter of itself,"
        " rounded outward."
    )
    if start.waxes_by_firmness:
        told += (
            " Waxes from half of that: half as much candelilla sets a bar as hard as"
            " beeswax does, and the window on firmness holds the bar."
        )
    lines = _comment(told)
    wide = max(len(_text(name)) for name in start.bands)
    rows = [
        f"{_text(name):<{wide}} = {{ min = {short(low)}, max = {short(high)} }}"
        for name, (low, high) in start.bands.items()
    ]
    return ["[bands]", *lines, *rows, ""]


def _pins(start: Start, about: RecipeTold, catalogue: Catalogue) -> list[str]:
    """Return small doses: as they are, or no more where they cannot stand so."""
    pins = start.pins if about.held else {}
    most = start.most if about.held else {**start.pins, **start.most}
    lines = []
    if pins:
        told = "Small doses, scent, colour and what keeps it: as in your recipe."
        if any(catalogue.ingredients[key].category == UNKNOWN for key in pins):
            told += " What is unknown stays too."
        lines += ["[pins]", *_comment(told), *_amounts(pins, catalogue), ""]
    if most:
        told = (
            "Small doses: no more than in your recipe, for other rules do not let them"
            " stand as they are."
        )
        names = {key: _text(catalogue.ingredients[key].name) for key in most}
        wide = max(map(len, names.values()))
        rows = [
            f"{names[key]:<{wide}} = {{ max = {_share(share, catalogue, key)} }}"
            for key, share in _rounded_up(most, start.recipe).items()
        ]
        lines += ["[limits]", *_comment(told), *rows, ""]
    return lines


def _windows(start: Start, about: RecipeTold, catalogue: Catalogue) -> list[str]:
    lines: list[str] = []
    for each in start.windows:
        lines += _window(each, about, catalogue)
    return lines


def _rounded_up(
    most: Mapping[str, float], recipe: Mapping[str, float]
) -> dict[str, float]:
    """Return limits that the recipe itself keeps, in as many decimals as a dose has."""
    found = {}
    for key, share in most.items():
        step = 10.0 ** -_places(share)
        over = recipe.get(key, share) - share
        found[key] = share + (step if over > step * 1e-6 else 0.0)
    return found


_ENDS = {
    "firmness": "the softest and firmest",
    "solid fat": "the least and most solid",
}


def _window(window: StartWindow, about: RecipeTold, catalogue: Catalogue) -> list[str]:
    at = f"{short(window.at)} degC"
    if window.reads is None:
        told = f"No window on {window.property} at {at}: it is not known of "
        return [*_comment(f"{told}{listed(window.lacking)}."), ""]
    aside = [catalogue.ingredients[key].name for key in window.aside]
    told = f"At {at} your recipe reads {short(window.reads, 3)}"
    if aside:
        told = (
            f"No {window.property} is known of {listed(aside)}, held as in your recipe"
            f" below [pins]. Without {'it' if len(aside) == 1 else 'them'} your recipe"
            f" reads {short(window.reads, 3)} at {at}"
        )
    if window.lots is not None:
        low, high = (short(round(each, 1), 3) for each in window.lots)
        told += f", and nine of ten lots of its ingredients {low} to {high}"
    if window.lacking:
        told += f" (without {listed(window.lacking)}, of which nothing is known)"
    if window.ends is not None:
        low, high = (short(each, 2) for each in window.ends)
        told += f" ({_ENDS[window.property]} of all of them together {low} to {high},"
        told += ' which a page tells as "by lot")'
    if window.low is None and window.high is None:
        return [*_comment(f"{told}: too soft for a window to hold."), ""]
    if window.property == "firmness":
        told += ": as firm as that. Narrow it once you have tried your own lots."
    else:
        told += ": no more of its fat solid there."
    rows = [
        "[[windows]]",
        f"name     = {_text(NAMES.get(window.property, window.property))}",
        f"property = {_text(window.property)}",
        f"at       = {_text(at)}",
        'over     = "lipids"',
        *([f"without  = [{', '.join(map(_text, aside))}]"] if aside else []),
    ]
    rows += [] if window.low is None else [f"min      = {short(window.low)}"]
    rows += [] if window.high is None else [f"max      = {short(window.high)}"]
    if about.windows:
        return [*_comment(told), *rows, ""]
    told += " The rules clash with it; take the marks away to ask for it all the same."
    return [*_comment(told), *(f"# {row}" for row in rows), ""]


def let_go(start: Start, about: RecipeTold) -> Iterator[str]:
    """Yield what a scenario does not ask of its recipe, for its rules clash with it."""
    windows = [
        NAMES.get(each.property, each.property)
        for each in start.windows
        if each.low is not None or each.high is not None
    ]
    if windows and not about.windows:
        one = len(windows) == 1
        stand = "window stands" if one else "windows stand"
        yield (
            f"The {stand} in the scenario as {'a comment' if one else 'comments'}, for"
            f" the other rules clash with {'it' if one else 'them'}: {listed(windows)}."
            " Nothing holds a formula to that."
        )
    if start.pins and not about.held:
        yield (
            "Small doses stand in the scenario as no more than in your recipe, for the"
            " other rules do not let them stand as they are."
        )


def not_judged(start: Start) -> Iterator[str]:
    """Yield what no window is written for, and what nothing is known of."""
    unknown: dict[tuple[str, ...], list[str]] = {}
    for each in start.windows:
        if each.reads is None:
            told = f"{each.property} at {short(each.at)} degC"
            unknown.setdefault(each.lacking, []).append(told)
    for lacking, names in unknown.items():
        yield (
            f"Not judged: {listed(names)}, for it is not known of {listed(lacking)}. No"
            " rule holds your recipe to it."
        )


def _guard(start: Start, about: RecipeTold) -> list[str]:
    if start.lauric is None or not about.windows:
        return []
    told = (
        "So much of your butters is lauric (coconut, palm kernel, ...). Above 10 % of"
        " them the figures of firmness mislead: take them as a rough guess."
    )
    row = f"lauric = {{ max = {short(start.lauric)} }}"
    return ["[guard]", *_comment(told), row, ""]


def _only(start: Start, catalogue: Catalogue) -> list[str]:
    told = (
        "What may be used: your recipe's own, and of the same kinds what the workshop"
        " has a price for. Take out what you would not buy; optimiser catalogue list"
        " has more names."
    )
    lines = ["[only]", *_comment(told), "ingredients = ["]
    names = [catalogue.ingredients[key].name for key in (*start.base, *start.alike)]
    return [*lines, *(f"    {_text(name)}," for name in names), "]", ""]


# The same for every way, so that another one may take the place of one written before.
FIRST_LINE = (
    "# A way out of the clash in the scenario it extends: [eased] moves limits."
)


def eased_scenario(extends: str, way: WayOut, dropped: Iterable[str] = ()) -> str:
    """Return a scenario file (TOML) that takes a way out of a clash.

    Parameters
    ----------
    extends : str
        The scenario that clashed, as seen from the file to be written.
    dropped : iterable of str
        Rules that it drops itself: a list below a heading replaces the inherited one.
    """
    eased = [each for each in way.easings if not each.rule.all_or_nothing]
    gone = [each.rule for each in way.easings if each.rule.all_or_nothing]
    lines = [FIRST_LINE, f"extends = {_exact(extends)}"]
    if way.asks_supplier:
        lines.insert(1, f"# It goes past a supplier's limit: {AGREED}.")
    if eased:
        lines += ["", "[eased]"]
        lines += [
            f"{_exact(each.rule.id)} = {each.to!r}  # {clean(each.rule.sentence)}"
            for each in eased
        ]
    if gone:
        lines += ["", "[dropped]", "rules = ["]
        lines += [f"    {_exact(each)}," for each in dropped]
        lines += [f"    {_exact(each.id)},  # {clean(each.sentence)}" for each in gone]
        lines += ["]"]
    return "\n".join(lines) + "\n"


POINT_LINE = (
    "# A point of a trade-off: its formula as the base of the scenario it extends."
)


def point_scenario(
    extends: str, title: str, made: Made, scenario: Scenario, catalogue: Catalogue
) -> str:
    """Return a scenario file (TOML) whose base is the formula of a point.

    Its first aim is to stay there, so that its answer is that formula.

    Parameters
    ----------
    extends : str
        The scenario that the trade-off is of, as seen from the file to be written.
    scenario : Scenario
        That scenario: what is in its base and not in the formula is taken out.
    """
    used = {line.name: line.percent for line in made.formula if line.percent > 0}
    gone = [catalogue.ingredients[key].name for key in scenario.base]
    order = ["change", *(aim.name for aim in scenario.aims if aim.name != "change")]
    lines = [
        POINT_LINE,
        f"title   = {_exact(clean(title))}",
        f"extends = {_exact(extends)}",
        # The curve is of amounts in no steps.
        *(["amounts = false"] if scenario.steps is not None else []),
        "",
        "[aim]",
        f"order = [{', '.join(map(_text, order))}]",
        "",
        "[base]",
        *(f"{_exact(name)} = {percent:.4f}" for name, percent in used.items()),
        *(f"{_exact(name)} = false" for name in gone if name not in used),
    ]
    return "\n".join(lines) + "\n"


PINNED_LINE = (
    "# A formula of a plan, pinned, inside the rules of the scenario it extends."
)


def pinned_scenario(extends: str, title: str, made: Made, catalogue: Catalogue) -> str:
    """Return a scenario file (TOML) whose only answer is a formula.

    Its base and its rules are those of the scenario it extends.

    Parameters
    ----------
    extends : str
        That scenario, as seen from the file to be written.
    """
    shares = {key: round(percent, 4) for key, percent in made.amounts.items()}
    largest = max(shares, key=shares.__getitem__)
    shares[largest] = round(shares[largest] + 100.0 - sum(shares.values()), 4)
    lines = [
        PINNED_LINE,
        f"title   = {_exact(clean(title))}",
        f"extends = {_exact(extends)}",
        "",
        "[pins]",
        *(
            f"{_exact(catalogue.ingredients[key].name)} = {percent:.10g}"
            for key, percent in shares.items()
        ),
    ]
    return "\n".join(lines) + "\n"


def _exact(value: str) -> str:
    """Return a TOML basic string: its escapes are those of JSON, and one more."""
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
