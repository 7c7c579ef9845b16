"""What goes with a formula: properties, allergens, label names, what was checked."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from optimiser.domain.properties import PROPERTIES
from optimiser.presenting.page import Block, Item, Number, Table, TableColumn, items
from optimiser.presenting.words import (
    NEW,
    clean,
    decimals,
    flag_words,
    keys,
    listed,
    money,
    plural,
    short,
    unit_words,
)

if TYPE_CHECKING:
    from optimiser.domain.catalogue import Source
    from optimiser.domain.rule import Rule
    from optimiser.explaining.answer import (
        AllergenLine,
        LabelName,
        LeftOut,
        Proof,
        PropertyLine,
        Unused,
    )
    from optimiser.explaining.ties import Tie

__all__ = [
    "DOUBT",
    "allergen_words",
    "allergens",
    "allergens_in_short",
    "asked",
    "checked",
    "holding",
    "label_names",
    "left_out",
    "not_asked",
    "not_judged",
    "opinion_told",
    "proof_told",
    "properties",
    "property_words",
    "tie_told",
    "unused",
    "without_told",
]

DOUBT = "Model says; make 100 g and test."
# What an ingredient is that no list names, and since when that is so.
_NOT_LISTED = {
    "botanical_nut_or_kernel_not_listed": (
        "a kernel or botanical nut, no {allergen} on any list here"
    ),
    "delisted_us_2025": (
        "no {allergen} on any list here; the US list named it until January 2025"
    ),
}
# Whose rules are, for one and for several.
_OWNERS = {
    "wish": ("yours", "yours"),
    "law": ("by law", "by law"),
    "safety": ("for safety", "for safety"),
    "supplier": ("supplier's limit", "suppliers' limits"),
    "practice": ("of common practice", "of common practice"),
    "assessor": ("your assessor's", "your assessor's"),
    "model": ("limit of the model", "limits of the model"),
}
_BETTER = {
    "cost": "is cheaper",
    "change": "is closer to the base",
    "category change": "is closer to the base by category",
    "count": "has fewer ingredients",
    "bought": "leaves less to buy",
}
NEAR_THIS = (
    "The second opinion counts there as it is near this formula: the best found from"
    " several starts; one further away may be better."
)


def properties(lines: Sequence[PropertyLine]) -> Iterator[Block]:
    """Yield properties with their spread, and what is not known."""
    known = [each for each in lines if each.value is not None]
    if known:
        names = tuple(property_words(each) for each in known)
        units = tuple(unit_words(each.unit, "") for each in known)
        yield Table(
            (
                TableColumn("", names, words=True, least=20),
                TableColumn("low", tuple(_figure(each.low) for each in known)),
                TableColumn("typical", tuple(_figure(each.value) for each in known)),
                TableColumn("high", tuple(_figure(each.high) for each in known)),
                TableColumn("", units, words=True, least=4),
                *_second(known),
            )
        )
        yield Item(DOUBT)
        rough = next((_rough(each) for each in known if each.rough), None)
        if rough is not None:
            yield Item(f"{rough}: {_misleads()}")
    for each in lines:
        if each.value is None:
            lacking = f" for {listed(each.missing, 5)}" if each.missing else ""
            yield Item(f"{property_words(each)}: not known, no figure{lacking}.")
        elif each.missing:
            yield Item(f"{property_words(each)}: without {listed(each.missing, 5)}.")
    yield from items(without_told(lines))


def without_told(lines: Sequence[PropertyLine]) -> list[str]:
    """Return what is unknown and so little that the figures are told without it.

    >>> from optimiser.explaining.answer import PropertyLine
    >>> aside = (("stardust", 1.13),)
    >>> found = PropertyLine("firmness", 25.0, "lipids", 1, 2, 3, "", without=aside)
    >>> without_told([found, found])
    ['without stardust (1.13 %): what it is, is not known']
    """
    aside = dict(x for each in lines if each.value is not None for x in each.without)
    if not aside:
        return []
    shares = (f"{clean(name)} ({short(much, 3)} %)" for name, much in aside.items())
    are = "it is, is" if len(aside) == 1 else "they are, is"
    return [f"without {listed(shares)}: what {are} not known"]


def _second(lines: Sequence[PropertyLine]) -> list[TableColumn]:
    """Return the column of second figures, with their doubt, where there are some."""
    told = tuple(
        ""
        if each.second is None or each.doubt is None
        else f"{decimals(each.second, 0)} +-{decimals(each.doubt, 0)}"
        for each in lines
    )
    return [TableColumn("2nd opinion", told, words=True)] if any(told) else []


def property_words(line: PropertyLine) -> str:
    """Return a property at its temperature over its part, as a maker says it."""
    over = "" if line.over == "product" else f", {line.over}"
    return f"{_at(line)}{over}"


def _at(line: PropertyLine) -> str:
    at = "" if line.at is None else f" at {short(line.at)} °C"
    return f"{line.property}{at}"


def _over(line: PropertyLine) -> str:
    """Return the part that a window is over, where it is not the usual one."""
    known = PROPERTIES.get(line.property)
    usual = known is None or line.over in {known.over, "product"}
    return "" if usual else f" of the {line.over}"


def _figure(value: float | None) -> Number:
    return Number(value, "" if value is None else short(value, figures=3))


def holding(lines: Sequence[PropertyLine]) -> Iterator[Item]:
    """Yield what windows ask for, a line each with its doubt.

    That figures are a rough guess is said at the first one of which it is so.
    """
    said = False
    for line in asked(lines):
        if line.value is None:
            yield Item(f"{_at(line)}{_over(line)}: not known")
            continue
        what = _at(line) + _over(line)
        told = f"{what}: {_as_kept(line, line.value)}{unit_words(line.unit)}"
        beside = [_asked_words(line)]
        if line.low is not None and line.high is not None:
            beside.append(f"by lot {short(line.low, 2)} to {short(line.high, 2)}")
        if line.second is not None and line.doubt is not None:
            second = f"{decimals(line.second, 0)} +-{decimals(line.doubt, 0)}"
            beside.append(f"2nd opinion {second}")
        if line.rough and not said:
            beside.append(_rough(line))
        said = said or bool(line.rough)
        yield Item(f"{told} ({'; '.join(beside)})")
    yield from items(without_told(list(asked(lines))))


def _as_kept(line: PropertyLine, value: float) -> str:
    """Return a value in so many figures that none seems to break what it keeps.

    >>> from optimiser.explaining.answer import PropertyLine
    >>> warm = PropertyLine("firmness", 35.0, "lipids", 67.8, 50, 80, "", most=67.94)
    >>> _as_kept(warm, 67.8), _as_kept(warm, 61.2), _as_kept(warm, 69.3)
    ('67.8', '61', '69')
    """
    low = -math.inf if line.least is None else min(value, line.least)
    high = math.inf if line.most is None else max(value, line.most)
    told = (short(value, figures) for figures in (2, 3, 4))
    return next((each for each in told if low <= float(each) <= high), short(value))


def asked(lines: Sequence[PropertyLine]) -> Iterator[PropertyLine]:
    """Yield the lines that a window asks something of."""
    return (x for x in lines if x.least is not None or x.most is not None)


def opinion_told(line: PropertyLine) -> str:
    """Return what a window asks for beside the second opinion of it."""
    second = decimals(line.second or 0.0, 0)
    return f"{_at(line)} ({_asked_words(line)}; {second} by it)"


def _rough(line: PropertyLine) -> str:
    """Return that a figure is a rough guess, and of what there is too much for it."""
    told = (f"{decimals(share, 0)} % {what}" for what, share in line.rough)
    return f"rough guess: {' and '.join(told)}"


def _misleads() -> str:
    """Return from how much of what on straight sums are a rough guess."""
    from optimiser.rules.guards import LAURIC_SHARE, WAX_SHARE  # noqa: PLC0415 - late

    return (
        f"above {short(LAURIC_SHARE)} % lauric fats in the butters the sum of solid"
        f" fats misleads, and above {short(WAX_SHARE)} % wax in the lipids what waxes"
        " add to firmness"
    )


def not_asked(lines: Sequence[PropertyLine], *, firm: bool = True) -> list[str]:
    """Return what a bar reads where no window asks for it, or why that is not known.

    Nothing of its firmness where that is not to be told as ``firm``.

    >>> from optimiser.explaining.answer import PropertyLine
    >>> open_ = PropertyLine("firmness", 25.0, "lipids", None, None, None, "", ("x",))
    >>> not_asked([open_])
    ['not judged: no figures of how x melts (add them to properties.csv)']
    >>> held = PropertyLine("solid fat", 35.0, "lipids", 1.0, 0.0, 2.0, "%", most=6.0)
    >>> not_asked([open_, held])
    ['firmness at 25 °C: not judged, for it is not known of x']
    >>> warm = PropertyLine("firmness", 32.0, "lipids", 50, 60, 70, "", least=55.0)
    >>> not_asked([warm, PropertyLine("firmness", 25.0, "lipids", 60, 85, 99, "")])
    ['firmness at 25 °C: 85 (no window asks)']
    """
    melting = [
        x
        for x in lines
        if x.property in TELLING_AT and (firm or x.property != "firmness")
    ]
    asked = {x.property for x in lines if x.least is not None or x.most is not None}
    here = [x for x in melting if x.at == TELLING_AT[x.property]]
    if asked:
        # A window for the heat leaves open how hard it is in a room.
        return [
            f"{_at(x)}: {short(x.value, 2)} (no window asks)"
            for x in here
            if x.property == "firmness" and x.property in asked and _is_open(x)
            if x.value is not None
        ] + [
            f"{_at(x)}: not judged, for it is not known of {listed(x.missing, 3)}"
            for x in here
            if x.property not in asked and x.missing
        ]
    read = [
        f"{_at(x)}: {short(x.value, 2)}{unit_words(x.unit)}"
        f" (no window asks{f'; {_rough(x)}' if x.rough else ''})"
        for x in here
        if x.value is not None
    ]
    lacking = dict.fromkeys(name for x in melting for name in x.missing)
    if read or not lacking:
        return [*read, *without_told(melting)] if read else []
    strangers = dict.fromkeys(name for x in melting for name in x.unknown)
    told = []
    if strangers:
        are = "is" if len(strangers) == 1 else "are"
        told.append(f"it is not known what {listed(strangers, 3)} {are}")
    if rest := [name for name in lacking if name not in strangers]:
        melt = "melts" if len(rest) == 1 else "melt"
        add = "(add them to properties.csv)"
        told.append(f"no figures of how {listed(rest, 3)} {melt} {add}")
    return [f"not judged: {', and '.join(told)}"]


def _is_open(line: PropertyLine) -> bool:
    return line.least is None and line.most is None


def not_judged(lines: Sequence[PropertyLine], *, firm: bool = True) -> str:
    """Return that no window judges firmness or melting, and why; nothing if one does.

    Nothing of firmness where that is not to be told as ``firm``.

    >>> from optimiser.explaining.answer import PropertyLine
    >>> open_ = PropertyLine("firmness", 25.0, "lipids", None, None, None, "", ("x",))
    >>> not_judged([open_])
    'Firmness is not judged: too little is known of x.'
    """
    asked = {x.property for x in lines if x.least is not None or x.most is not None}
    open_ = [x for x in lines if x.property in TELLING_AT and x.property not in asked]
    if asked & MELTING.keys():  # the other one may be of no concern
        open_ = [x for x in open_ if x.value is None]
    found = {x.property for x in open_ if firm or x.property != "firmness"}
    names = [name for each, name in MELTING.items() if each in found]
    if not names:
        return ""
    lacking = dict.fromkeys(name for x in open_ for name in x.missing)
    why = "no window asks"
    if lacking:
        why = f"too little is known of {listed(lacking, 3)}"
    said, are = listed(names), "is" if len(names) == 1 else "are"
    return f"{said[0].upper()}{said[1:]} {are} not judged: {why}."


MELTING = {"firmness": "firmness", "solid fat": "melting"}  # what each is called
# deg C: what of a bar that no window holds is told: in a room, and on the skin.
TELLING_AT = {"firmness": 25.0, "solid fat": 35.0}


def _asked_words(line: PropertyLine) -> str:
    both = line.least is not None and line.most is not None
    return f"asked {_asked(line)}" if both else _asked(line)


def _asked(line: PropertyLine) -> str:
    if line.least is None:
        return f"at most {short(line.most or 0.0)}"
    if line.most is None:
        return f"at least {short(line.least)}"
    return f"{short(line.least)} to {short(line.most)}"


def unused(
    lines: Sequence[Unused], currency: str, most: int = 8, *, choices_kept: bool = False
) -> Iterator[Item]:
    """Yield the unused ingredients nearest to coming in, nearest first."""
    priced = [(each, below) for each in lines if (below := _enters(each)) is not None]
    priced.sort(key=lambda pair: _drop(*pair))
    if choices_kept and lines:
        yield Item(
            "With the other chosen ingredients kept.",
            typed="`optimiser why` chooses anew.",
        )
    for each, below in priced[:most]:
        now = each.price_per_kg
        if now is None:
            told = f"would come in below {money(below)} {currency}/kg (no price known)"
        elif now - below < 0.005:
            told = f"at {money(now)} {currency}/kg it could come in at no extra cost"
        else:
            told = (
                f"would come in below {money(below)} {currency}/kg (now {money(now)})"
            )
        yield Item(f"{each.name}: {told}")
    if len(priced) > most:
        yield Item(f"and {len(priced) - most} more, further from it")
    never = [each.name for each in lines if _enters(each) is None]
    if never:
        yield Item(f"no price would bring in: {listed(never, most)}")


def _enters(line: Unused) -> float | None:
    """Return the price below which it comes in, if some price would do."""
    below = line.enters_below
    return below if below is not None and 0 < below < math.inf else None


def _drop(line: Unused, below: float) -> float:
    now = line.price_per_kg
    return math.inf if now is None or now <= 0 else (now - below) / now


def allergen_words(line: AllergenLine) -> str:
    """Return what an ingredient is, which lists name it, and since when not.

    >>> from optimiser.explaining.answer import AllergenLine
    >>> allergen_words(AllergenLine("soy", "lecithin", ("CA", "US")))
    'lecithin: soy, listed in CA and US'
    >>> allergen_words(AllergenLine("soy", "lecithin", ("CA",), new=True))
    'lecithin: soy, listed in CA, new against your base'
    >>> allergen_words(AllergenLine("tree nut", "shea", flag="delisted_us_2025"))
    'shea: no tree nut on any list here; the US list named it until January 2025'
    """
    new = f", {NEW}" if line.new else ""
    if line.listed:
        return f"{line.name}: {line.allergen}, listed in {listed(line.listed)}{new}"
    if not line.flag:
        return f"{line.name}: never classified, ask the supplier"
    told = _NOT_LISTED.get(line.flag, f"{{allergen}}, {flag_words(line.flag)}")
    return f"{line.name}: {told.format(allergen=line.allergen)}{new}"


def allergens(lines: Sequence[AllergenLine]) -> Iterator[Item]:
    """Yield the allergens that are present, with what brings them."""
    for line in lines:
        yield Item(allergen_words(line))


def allergens_in_short(lines: Sequence[AllergenLine]) -> Iterator[Item]:
    """Yield what lists name, what to ask about, and what was never classified."""
    named: dict[tuple[str, str], list[str]] = {}
    asked: dict[tuple[str, str], list[str]] = {}
    never: list[str] = []
    for line in lines:
        if line.listed:
            where = f"; listed: {', '.join(line.listed)}"
            named.setdefault((line.allergen, where), []).append(line.name)
        elif line.flag:
            asked.setdefault((line.allergen, ""), []).append(line.name)
        else:
            never.append(line.name)
    for title, found, most in (
        ("Allergens", named, 3),
        ("Ask, though no list names it", asked, 2),
    ):
        told = [
            f"{allergen} ({listed(dict.fromkeys(names), most)}{where})"
            for (allergen, where), names in found.items()
        ]
        if told:
            yield Item(f"{title}: {'; '.join(told)}")
    if never:
        yield Item(f"Not classified, ask the supplier: {listed(never, 3)}")


def label_names(lines: Sequence[LabelName]) -> Iterator[Item]:
    """Yield the scent allergens that a label names, by market."""
    for each in lines:
        yield Item(
            f"{each.name} ({each.market}): up to {short(each.percent)} %, named from "
            f"{short(each.threshold)} %; from {listed(each.from_ingredients)}"
        )


def left_out(lines: Sequence[LeftOut]) -> Iterator[Item]:
    """Yield what could not be considered, those left out for one reason together."""
    reasons: dict[str, list[str]] = {}
    for each in lines:
        reasons.setdefault(each.why, []).append(each.name)
    for why, names in reasons.items():
        yield Item(f"{why}: {listed(names, 12)}")


def checked(rules: Sequence[Rule], sources: Mapping[str, Source]) -> Iterator[Item]:
    """Yield which rules were checked, and the editions of law they come from."""
    owners = Counter(rule.owner for rule in rules if rule.owner != "arithmetic")
    parts = [
        plural(count, *_OWNERS.get(owner, (owner, owner)))
        for owner, count in owners.items()
    ]
    law = [rule for rule in rules if rule.owner == "law"]
    read_in = dict.fromkeys(key for rule in law for key in keys(rule.source))
    editions = tuple(f"edition: {_edition(key, sources)}" for key in read_in)
    told = "There was no rule to check."
    if parts:
        told = f"{plural(sum(owners.values()), 'rule')} checked: {', '.join(parts)}."
    yield Item(told, editions)


def _edition(key: str, sources: Mapping[str, Source]) -> str:
    source = sources.get(key)
    if source is None:
        return key
    return source.reference + (f" (read {source.read})" if source.read else "")


def proof_told(proof: Proof, aim: str | None, *, held: bool = False) -> str:
    """Return in plain words how far the answer was proved.

    ``held`` says that the second opinion had to be held, by straight rules.

    >>> from optimiser.explaining.answer import Proof
    >>> proof_told(Proof(0.0, 0.0), "cost").split(", ")[1]
    'and no formula that keeps them is cheaper by more than 0.00001 %.'
    """
    miss = abs(proof.worst_violation)
    missed = "" if miss < 1e-9 else f" (none is missed by more than {short(miss)})"
    percent = max(proof.gap * 100, 1e-5)
    within = f"{math.ceil(percent * 1e5 - 1e-6) / 1e5:.5f}".rstrip("0")
    better = _BETTER.get(aim or "cost", "is better")
    among = "" if proof.by == "duality" else " among all choices of ingredients"
    line = (
        f"Checked twice: every rule was worked out again from the catalogues{missed},"
        f" and{among} no formula that keeps them {better} by more than {within} %."
    )
    return f"{line} {NEAR_THIS}" if held else line


# What the value of an aim other than cost counts.
AIM_UNITS = {
    "count": "ingredients",
    "change": "% different from the base",
    "kind change": "% different by kind",
    "category change": "% different by category",
}


def tie_told(tie: Tie, currency: str) -> str:
    """Return another formula that does as well, or nearly, and how it differs.

    >>> from optimiser.explaining.ties import Tie
    >>> other = (("a", "cocoa butter", 28.0, 22.0), ("b", "shea butter", 30.0, 36.0))
    >>> tie_told(Tie(0.0, "count", 9.0, 6.0, other), "EUR").partition(":")[0]
    'One of which 6 % is different is just as good (9 ingredients)'
    """
    moves = listed(
        f"{clean(name)} {short(here, 3)} -> {short(there, 3)} %"
        for _, name, here, there in tie.amounts[:6]
    )
    if tie.aim == "cost":
        value = f"{money(tie.value)} {currency}/kg"
    else:
        value = f"{short(tie.value)} {AIM_UNITS.get(tie.aim, tie.aim)}"
    close = "just as good" if tie.within == 0 else f"within {short(100 * tie.within)} %"
    return (
        f"One of which {tie.distance:.0f} % is different is {close} ({value}): {moves}."
    )
