"""Pouring advice as text and as data."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from optimiser.presenting.layout import Column, item, numbered, paragraph, table, width
from optimiser.presenting.report import section
from optimiser.presenting.words import decimals, listed, short

if TYPE_CHECKING:
    from optimiser.workshop.grains import Grain, Range
    from optimiser.workshop.pouring import Addition, Pouring

__all__ = ["advice", "overlap", "pouring_data", "pouring_report"]

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
    """Return what to do, a sentence a step."""
    if pouring.gel is None or pouring.pour_at is None:
        return [
            "This melt does not hold 2 % of crystals above 10 °C: grains will settle"
            " in it however it is stirred. More hard butter or wax would hold them."
        ]
    thickens = pouring.gel.thickens
    good = [a for a in pouring.additions if a.room is not None and a.room >= 0.0]
    bad = [a for a in pouring.additions if a.room is not None and a.room < 0.0]
    away = ", and set somewhere colder than this room" if pouring.too_warm else ""
    steps = [f"Melt butters, oils, wax in a water bath until clear; let it cool{away}."]
    if pouring.grains or pouring.not_judged:
        steps.append("Stir grains and powders in on the way down.")
    end = f"pour at {_whole(pouring.pour_at)} °C."
    if pouring.stir_to_gel:
        end = f"stir to {_whole(pouring.pour_at)} °C, pour."
    steps += [_clash(each, thickens) for each in bad]
    if good:
        last = thickens if pouring.stir_to_gel else pouring.pour_at
        steps.append(f"Add {_windows(good, last)}; {end}")
    else:
        steps.append(end[0].upper() + end[1:])
    return steps


def _clash(addition: Addition, thickens: float) -> str:
    """Return why an addition does not fit, and what might help."""
    told = (
        f"They do not overlap: {addition.name} goes in at"
        f" {_whole(addition.highest or 0.0)} °C at most, but this melt thickens from"
        f" {_whole(thickens)} °C."
    )
    if addition.stands is not None and addition.stands >= thickens:
        told += (
            f" Some sheets say that it stands {_whole(addition.stands)} °C: if the"
            " supplier's sheet of your lot does, add it just above"
            f" {_whole(thickens)} °C."
        )
    else:
        told += " Use one that stands more heat, or less wax."
    return told


def pouring_report(pouring: Pouring, columns: int | None = None) -> str:
    """Return pouring advice as text."""
    wide = columns or width()
    lines = paragraph(f"Pouring: {pouring.title}", wide)
    lines += section("What to do", numbered(advice(pouring), wide))
    lines += section("Where it sets", _setting(pouring, wide))
    lines += section("What is added while it cools", _additions(pouring, wide))
    lines += section("How fast grains settle", _grains(pouring, wide))
    lines += section("Doubt", [x for text in doubts(pouring) for x in item(text, wide)])
    lines += section("Cautions", numbered(pouring.cautions, wide))
    return "\n".join(lines) + "\n"


def _setting(pouring: Pouring, columns: int) -> list[str]:
    if pouring.gel is None:
        return item("less than 2 % solid at every temperature above 10 °C", columns)
    gel = pouring.gel
    lines = item(
        f"thickens at {decimals(gel.thickens, 1)} °C (1 % solid) and holds grains from"
        f" {decimals(gel.holds, 1)} °C (2 % solid), give or take"
        f" {short(pouring.doubt)} K; wax is {short(pouring.wax_percent_of_lipids, 2)} %"
        " of the lipids",
        columns,
    )
    if pouring.seconds_per_kelvin is not None:
        low, high = pouring.seconds_per_kelvin
        lines += item(
            f"there a small pot in a {short(pouring.room_temperature)} °C room loses"
            f" one degree in {decimals(low, 0)} to {decimals(high, 0)} s",
            columns,
        )
    return lines


def _additions(pouring: Pouring, columns: int) -> list[str]:
    each = pouring.additions
    if not each:
        return []
    return table(
        [
            Column("", [a.name for a in each], number=False, least=16),
            Column("%", [short(a.percent, 3) for a in each]),
            Column("at most °C", [_known(a.highest) for a in each]),
            Column("room K", [_known(a.room) for a in each]),
            Column("", [VERDICTS[a.verdict] for a in each], number=False, least=14),
        ],
        columns,
    )


def _known(number: float | None) -> str:
    return "" if number is None else decimals(number, 0)


def _grains(pouring: Pouring, columns: int) -> list[str]:
    each, lines = pouring.grains, []
    if each:
        lines = table(
            [
                Column("", [g.name for g in each], number=False, least=12),
                Column("mm", [_range(g.size_mm) for g in each], number=False, least=8),
                Column(
                    "to fall",
                    [_times(g) for g in each],
                    number=False,
                    least=9,
                ),
                Column("per degree", [_last(g) for g in each], number=False),
                Column("held by %", [_held(g) for g in each], number=False),
            ],
            columns,
        )
        lines += item(
            f"to fall {short(pouring.depth_mm)} mm, per degree that the pot cools, and"
            " the % solid that would hold it; in the melt 1 K above its gel point"
            f" ({_viscosity(pouring)}), grains being"
            f" {decimals(100 * pouring.volume_share, 0)} % of the volume",
            columns,
        )
    for text in pouring.not_judged:
        lines += item(f"{text}: not judged", columns)
    return lines


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


def _last(grain: Grain) -> str:
    return " to ".join(short(each, 2) for each in grain.last_kelvin_mm) + " mm"


def _held(grain: Grain) -> str:
    return "-".join(short(each, 2) for each in grain.held_by)


def doubts(pouring: Pouring) -> list[str]:
    """Return what the advice rests on and leaves out, most serious first."""
    said = [
        f"Model, not a measurement: the gel point is good to {short(pouring.doubt)} K"
        " either way. Try 100 g first and write down where it held."
    ]
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
    if pouring.left_out:
        said.append(
            f"What {listed(pouring.left_out)} consists of is not known: left out of"
            " the melt, so trust these temperatures less."
        )
    if pouring.inert:
        said.append(
            f"{listed(pouring.inert)}: counted as liquid; a waxy emulsifier sets too,"
            " so the melt may hold some degrees sooner."
        )
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
        "left_out": pouring.left_out,
        "doubts": doubts(pouring),
        "cautions": pouring.cautions,
    }


def _addition_data(addition: Addition, gels: bool) -> dict[str, Any]:
    names: Sequence[str] = ("ingredient", "name", "category", "percent", "highest")
    told = {name: getattr(addition, name) for name in (*names, "stands", "room")}
    return {
        **told,
        "verdict": addition.verdict if gels else "unknown",
        "evidence": addition.evidence,
        "source": addition.sources,
    }
