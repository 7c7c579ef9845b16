"""Pouring advice: a page, and data."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from msgspec.structs import asdict

from optimiser.domain.caution import CautionLine
from optimiser.presenting import care
from optimiser.presenting.following import following
from optimiser.presenting.page import (
    Block,
    Item,
    Numbered,
    Page,
    Section,
    Table,
    TableColumn,
    items,
    numbers,
    section,
    words,
)
from optimiser.presenting.words import decimals, listed, short
from optimiser.workshop.cooling import BUBBLES
from optimiser.workshop.stages import COOLED

if TYPE_CHECKING:
    from optimiser.workshop.grains import Grain, Range
    from optimiser.workshop.pouring import Addition, Pouring

__all__ = [
    "advice",
    "after",
    "cautions",
    "doubts",
    "left_aside",
    "never_holds",
    "overlap",
    "pouring_data",
    "pouring_page",
    "steps",
]

COMMON = (37.0, 38.0)  # where stirring ends by common practice, deg C
LITTLE_WAX = 1.0
LAMINAR = 0.5
VERDICTS = {
    "fits": "fits",
    "tight": "fits, but within the doubt",
    "narrow miss": "does not fit; within the doubt it may",
    "miss": "does not fit",
    "unknown": "no figure known: ask the supplier",
}


def _whole(degrees: float) -> str:
    return decimals(degrees, 0)


def _up(degrees: float) -> str:
    """Return whole degrees that are not below what is meant."""
    return _whole(math.ceil(round(degrees, 6)))


def _windows(additions: Sequence[Addition], thickens: float) -> str:
    """Return what goes in when, in whole degrees, those with one window together."""
    groups: dict[str, list[str]] = {}
    for each in additions:
        high, low = _whole(each.highest or 0.0), _whole(thickens)
        window = f"at {high} °C" if high == low else f"between {high} and {low} °C"
        groups.setdefault(window, []).append(each.name)
    return "; ".join(f"{listed(names)} {window}" for window, names in groups.items())


def overlap(pouring: Pouring) -> str:
    """Return whether what is added while cooling goes into a melt that still runs.

    Returns
    -------
    str
        "fits", "tight" (within the doubt), "miss", or "unknown".
    """
    verdicts = {each.verdict for each in pouring.additions}
    if verdicts & {"miss", "narrow miss"}:
        return "miss"
    if "tight" in verdicts:
        return "tight"
    return "unknown" if "unknown" in verdicts or pouring.gel is None else "fits"


def advice(pouring: Pouring) -> list[str]:
    """Return what to do, a sentence a step, after what the melt never does."""
    return [*never_holds(pouring), *steps(pouring)]


def never_holds(pouring: Pouring) -> list[str]:
    """Return that a melt holds no grains at any temperature; nothing if it does."""
    if pouring.pour_at is not None or pouring.waxes:
        return []
    if pouring.unjudged:
        return [
            f"{_nobody_knows(pouring)} Cool it slowly and stir until it thickens; note"
            " the temperature for the next time."
        ]
    if not pouring.grains and not pouring.not_judged and "stir" not in pouring.stages:
        return ["This melt does not hold 2 % of crystals above 10 °C: it stays runny."]
    return [
        "This melt does not hold 2 % of crystals above 10 °C: grains will settle"
        " in it however it is stirred. More hard butter or wax would hold them."
    ]


def _nobody_knows(pouring: Pouring) -> str:
    """Return that where it sets is not known, and why."""
    are = "is" if len(pouring.unjudged) == 1 else "are"
    return (
        "Where this melt thickens is not known, for it is not known what"
        f" {listed(pouring.unjudged)} {are}."
    )


def steps(pouring: Pouring, heads: Mapping[str, str] | None = None) -> list[str]:
    """Return what to do, a sentence a step; each ingredient has its own in one.

    ``heads`` are those of a table which names what is melted and stirred in.
    """
    found = [
        *_melted(pouring, heads),
        *_watery(pouring),
        *_stirred(pouring, heads),
    ]
    found += _added_any_time(pouring)
    found += _of_unknown_stage(pouring)
    if pouring.waxes:
        told = (
            "Pour when it clouds: where it thickens is not known, for it is not how"
            f" {listed(pouring.waxes)} sets in oil. Note where it did."
        )
        return [*found, told]
    if pouring.gel is None or pouring.pour_at is None:
        return [*found, "Fill."]
    return [*found, *_cooled(pouring, pouring.gel.thickens, pouring.pour_at)]


def _named(pouring: Pouring, stage: str, heads: Mapping[str, str] | None = None) -> str:
    if heads is not None:
        return f"all below {heads[stage]}"
    return listed(pouring.names[key] for key in pouring.stages[stage])


def _melted(pouring: Pouring, heads: Mapping[str, str] | None) -> Iterator[str]:
    """Yield what is melted, and how warm."""
    if "melt" not in pouring.stages:
        return
    melted = f"Melt {_named(pouring, 'melt', heads)} in a water bath"
    if pouring.waxes and pouring.melt_to is None:
        yield (
            f"{melted} until clear, no warmer: how warm is not known, ask the supplier"
            f" of {listed(pouring.waxes)} for the melting point, a row of"
            " properties.csv; let it cool."
        )
        return
    away = ", and set somewhere colder than this room" if pouring.too_warm else ""
    to = "" if pouring.melt_to is None else f" to {_whole(pouring.melt_to)} °C,"
    if to and pouring.strangers:
        to += f" or as warm as {listed(pouring.strangers)} may need (not known),"
    yield f"{melted}{to} until clear; let it cool{away}."


def _watery(pouring: Pouring) -> Iterator[str]:
    """Yield what is warmed apart and joined."""
    if "water" not in pouring.stages:
        return
    warm = f"Warm {_named(pouring, 'water')}"
    if "melt" in pouring.stages:
        warm += " apart to the same heat, then join them"
    yield f"{warm}."


def _stirred(pouring: Pouring, heads: Mapping[str, str] | None) -> Iterator[str]:
    """Yield what is stirred in dry."""
    if "stir" in pouring.stages:
        cooling = "" if pouring.pour_at is None else " on the way down"
        yield f"Stir in {_named(pouring, 'stir', heads)}{cooling}."


def _added_any_time(pouring: Pouring) -> Iterator[str]:
    """Yield what is added as it cools, of which no time before it thickens is known."""
    limits = {each.ingredient: each for each in pouring.additions}
    unknown = []
    for key in pouring.stages.get("add", ()):
        each = limits.get(key)
        if each is None or each.highest is None:
            unknown.append(pouring.names[key])
        elif each.room is None:
            yield f"Stir in {each.name} at {_whole(each.highest)} °C at most."
    if unknown:
        yield (
            f"Stir in {listed(unknown)} as it cools (no highest temperature is known)."
        )


def _of_unknown_stage(pouring: Pouring) -> Iterator[str]:
    """Yield what nobody has told when to add, and how to tell it."""
    if "unknown" in pouring.stages:
        goes = "goes" if len(pouring.stages["unknown"]) == 1 else "go"
        yield (
            f"When {_named(pouring, 'unknown')} {goes} in is not known here: ask the"
            " supplier, and write it into ingredients.csv (category, or stage)."
        )


def _cooled(pouring: Pouring, thickens: float, pour_at: float) -> list[str]:
    """Return what is added before it thickens, and where stirring or pouring ends."""
    good = [a for a in pouring.additions if a.room is not None and a.room >= 0.0]
    bad = [a for a in pouring.additions if a.room is not None and a.room < 0.0]
    at = _whole(pour_at) if pouring.stir_to_gel else _up(pour_at)
    end = f"stir to {at} °C" if pouring.stir_to_gel else f"pour at {at} °C"
    end += ", pour." if pouring.stir_to_gel and not bad else "."
    last = thickens if pouring.stir_to_gel else math.ceil(round(pour_at, 6))
    added = f"Add {_windows(good, last)}" if good else ""
    if bad:
        found = [f"{added}.{_unsure(good, pouring)}"] if good else []
        found += [end[0].upper() + end[1:]] if pouring.stir_to_gel else []
        found += [_last(each, thickens, at) for each in bad]
        return [*found, f"Pour at {at} °C, at once."]
    if good:
        return [f"{added}; {end}{_unsure(good, pouring)}"]
    return [end[0].upper() + end[1:]]


def after(pouring: Pouring) -> list[str]:
    """Return what to do once it is poured."""
    if pouring.gel is None and not pouring.waxes:
        return []
    first, last = pouring.days_until_hard
    told = f"It is at its full hardness after {first} to {last} days: judge it then."
    return [BUBBLES, *pouring.cooling, told]


def _unsure(additions: Sequence[Addition], pouring: Pouring) -> str:
    """Return that a window is narrower than the doubt, so that it may not be there."""
    tight = [each for each in additions if each.verdict == "tight"]
    if not tight:
        return ""
    room = min(each.room or 0.0 for each in tight)
    return (
        f" That window may not be there: {short(room, 2)} degrees, and the doubt is"
        f" {short(pouring.doubt)}. Have it weighed and ready; try 100 g first."
    )


def _last(addition: Addition, thickens: float, at: str) -> str:
    """Return that an addition goes in last, where the melt still runs, and why there.

    ``at`` is where it is poured, whole deg C.
    """
    usual, degrees = _whole(addition.highest or 0.0), float(at)
    told = f"At {at} °C stir {addition.name} in last, just before pouring."
    if degrees <= (addition.highest or 0.0):
        return f"{told} This melt thickens from {_whole(thickens)} °C: stir well."
    told += (
        f" {usual} °C at most is usual for it, but this melt thickens from"
        f" {_whole(thickens)} °C."
    )
    if addition.stands is not None and addition.stands >= degrees:
        told += (
            f" The usual is a habit, not a limit: some sheets say that it stands"
            f" {_whole(addition.stands)} °C."
        )
    else:
        told += f" No sheet is known that says it stands {at} °C."
    kind = f" {addition.category}" if addition.category in COOLED else ""
    return (
        f"{told} If the supplier's sheet of your lot forbids {at} °C, take another"
        f"{kind}, or less wax."
    )


def cautions(pouring: Pouring) -> tuple[CautionLine, ...]:
    """Return the cautions, first that it does not set in that room."""
    if pouring.gel is None or not pouring.too_warm:
        return pouring.cautions
    told = (
        f"In a {short(pouring.room_temperature)} °C room this will not set: the melt"
        f" holds grains only below {decimals(pouring.gel.holds, 1)} °C. Let it cool"
        " somewhere colder, and keep it there."
    )
    return (CautionLine("too warm", 100.0, told), *pouring.cautions)


def pouring_page(pouring: Pouring, *, full: bool = False) -> Page:
    """Return pouring advice as a page: what to do first."""
    sections = [Section("What to do", (Numbered(tuple(advice(pouring))),))]
    sections += section("Where it sets", _setting(pouring, full=full))
    told = after(pouring)
    if full:
        sections += section("While it cools", items(told))
        sections += section("What is added while it cools", _additions(pouring))
        sections += section("How fast grains settle", _grains(pouring))
        sections += section("Doubt", items(doubts(pouring)))
        sections += care.cautions(cautions(pouring), full=True)
    else:
        sections += section("Mind", items([*told[1:2], *told[-1:], *_mind(pouring)]))
        sections += care.cautions(cautions(pouring), full=False)
        rest = ["additions and grains in figures", "what this rests on"]
        sections += care.more(rest, cautions(pouring))
        sections += following("pour")
    where = (
        f"mould {short(pouring.depth_mm)} mm deep",
        f"room {short(pouring.room_temperature)} °C",
    )
    return Page(f"Pouring: {pouring.title}", where, tuple(sections))


def _mind(pouring: Pouring) -> list[str]:
    """Return what does not go by itself: unknown limits, tight ones, grains, doubt."""
    told = []
    unknown = [a.name for a in pouring.additions if a.highest is None]
    if unknown:
        told.append(f"{listed(unknown)}: {VERDICTS['unknown']}.")
    told += [
        f"{each.name}: its usual limit is {short(-(each.room or 0.0), 2)} degrees below"
        " where this melt thickens; within the doubt it may fit."
        for each in pouring.additions
        if each.verdict == "narrow miss"
    ]
    fastest = min(pouring.grains, key=lambda grain: grain.seconds[0], default=None)
    if fastest is not None:
        told.append(
            f"{fastest.name} falls {short(pouring.depth_mm)} mm in {_times(fastest)}"
            " just above where it sets: keep stirring."
        )
    if pouring.not_judged:
        told.append(f"Not judged: {'; '.join(pouring.not_judged)}.")
    if pouring.waxes:
        return told
    first, *_ = doubts(pouring)
    return [*told, care.first_sentence(first)]  # to try 100 g stands below


def _setting(pouring: Pouring, *, full: bool) -> list[Block]:
    if pouring.unjudged:
        return [Item(_nobody_knows(pouring))]
    if pouring.waxes:
        return [Item(f"not known, for it is not of {listed(pouring.waxes)}")]
    if pouring.gel is None:
        return [Item("less than 2 % solid at every temperature above 10 °C")]
    gel = pouring.gel
    wax = f"; wax is {short(pouring.wax_percent_of_lipids, 2)} % of the lipids"
    text = (
        f"thickens at {decimals(gel.thickens, 1)} °C (1 % solid) and holds grains from"
        f" {decimals(gel.holds, 1)} °C (2 % solid), give or take"
        f" {short(pouring.doubt)} degrees{wax if full else ''}"
    )
    if not full or pouring.seconds_per_kelvin is None:
        return [Item(text)]
    low, high = pouring.seconds_per_kelvin
    pot = (
        f"there a small pot in a {short(pouring.room_temperature)} °C room loses"
        f" one degree in {decimals(low, 0)} to {decimals(high, 0)} s"
    )
    return [Item(text), Item(pot)]


def _additions(pouring: Pouring) -> list[Table]:
    each = pouring.additions
    if not each:
        return []
    table = Table(
        (
            words("", [a.name for a in each], 16),
            numbers("%", [a.percent for a in each], lambda value: short(value, 3)),
            numbers("at most °C", [a.highest for a in each], _whole),
            numbers("degrees to spare", [a.room for a in each], _whole),
            words("", [VERDICTS[a.verdict] for a in each], 14),
        )
    )
    return [table]


def _grains(pouring: Pouring) -> list[Block]:
    each = pouring.grains
    blocks: list[Block] = []
    if each:
        columns: tuple[TableColumn, ...] = (
            words("", [g.name for g in each]),
            words("mm", [_range(g.size_mm) for g in each], 8),
            words("to fall", [_times(g) for g in each], 9),
            words("per degree", [_last_kelvin(g) for g in each]),
            words("held by %", [_held(g) for g in each]),
        )
        blocks.append(Table(columns))
        told = (
            f"to fall {short(pouring.depth_mm)} mm, per degree that the pot cools, and"
            " the % solid that would hold it; in the melt 1 degree above where it sets"
            f" ({_viscosity(pouring)}), grains being"
            f" {decimals(100 * pouring.volume_share, 0)} % of the volume"
        )
        blocks.append(Item(told))
    return [*blocks, *items([f"{text}: not judged" for text in pouring.not_judged])]


def _viscosity(pouring: Pouring) -> str:
    found = pouring.viscosity
    if found is None:
        return "viscosity not known"
    return f"{decimals(found.low, 0)} to {decimals(found.high, 0)} mPa s"


def _range(three: Range) -> str:
    low, _, high = three
    return short(low, 2) if low == high else f"{short(low, 2)}-{short(high, 2)}"


def _times(grain: Grain) -> str:
    low, _, high = grain.seconds
    if high < 120.0:
        return f"{decimals(low, 0)}-{decimals(high, 0)} s"
    return f"{short(low / 60.0, 2)}-{short(high / 60.0, 2)} min"


def _last_kelvin(grain: Grain) -> str:
    return " to ".join(short(each, 2) for each in grain.last_kelvin_mm) + " mm"


def _held(grain: Grain) -> str:
    return "-".join(short(each, 2) for each in grain.held_by)


def left_aside(pouring: Pouring) -> list[str]:
    """Return what temperatures leave aside, for it is not known; nothing if none."""
    if not pouring.left_out or pouring.waxes:
        return []
    return [
        f"What {listed(pouring.left_out)} consists of is not known: left out of the"
        " melt, so trust these temperatures less."
    ]


def doubts(pouring: Pouring) -> list[str]:
    """Return what the advice rests on and leaves out, most serious first."""
    said = [
        f"Model, not a measurement: where it sets is good to {short(pouring.doubt)}"
        " degrees either way. Try 100 g first and write down where it held."
    ]
    if pouring.waxes:
        said = ["Try 100 g first and write down where it clouded and where it held."]
    if pouring.gel is not None and pouring.wax_percent_of_lipids < LITTLE_WAX:
        said.append(
            "With hardly any wax butters stay liquid well below this temperature until"
            " crystals start (cocoa butter above all): stir until it clouds, or seed it"
            " with some unmelted butter."
        )
    if pouring.pour_at is not None and pouring.stir_to_gel:
        low, high = COMMON
        near = low - 1.0 <= pouring.pour_at <= high + 1.0
        told = "which is where this recipe comes out" if near else "not for this recipe"
        said.append(
            f"Common practice stops at about {_whole(low)}-{_whole(high)} °C whatever"
            f" the recipe: {told}. With little wax a melt holds only when cooler, with"
            " much of it sooner."
        )
    said += left_aside(pouring)
    if any(grain.reynolds > LAMINAR for grain in pouring.grains):
        said.append("Grains this large fall somewhat slower than told.")
    if pouring.viscosity is not None and pouring.viscosity.typical:
        said.append(
            "Typical viscosities were taken for"
            f" {listed(pouring.viscosity.typical, most=6)}."
        )
    return said


def pouring_data(pouring: Pouring) -> dict[str, Any]:
    """Return pouring advice as data: deg C, mm, seconds, percent."""
    gel = pouring.gel
    return {
        "status": "answered",
        "title": pouring.title,
        "advice": advice(pouring),
        "overlap": overlap(pouring),
        "gel_point": None
        if gel is None
        else {
            "thickens": gel.thickens,
            "holds": gel.holds,
            "middle": gel.middle,
            "doubt": pouring.doubt,
        },
        "pour_at": pouring.pour_at,
        "melt_to": pouring.melt_to,
        "after_pouring": after(pouring),
        "days_until_hard": pouring.days_until_hard,
        "stir_to_gel": pouring.stir_to_gel,
        "wax_percent_of_lipids": pouring.wax_percent_of_lipids,
        "viscosity": pouring.viscosity,
        "grains_percent_of_volume": 100.0 * pouring.volume_share,
        "depth_mm": pouring.depth_mm,
        "seconds_per_kelvin": pouring.seconds_per_kelvin,
        "additions": [
            _addition_data(each, gel is not None) for each in pouring.additions
        ],
        "grains": pouring.grains,
        "not_judged": pouring.not_judged,
        "waxes_of_unknown_melting": pouring.waxes,
        "left_out": pouring.left_out,
        "unjudged": pouring.unjudged,
        "doubts": doubts(pouring),
        "cautions": [each.text for each in cautions(pouring)],
    }


def _addition_data(addition: Addition, gels: bool) -> dict[str, Any]:
    told = asdict(addition)
    sources = told.pop("sources")
    verdict = addition.verdict if gels else "unknown"
    return {**told, "verdict": verdict, "source": sources}
