"""Pouring advice: until when to stir, when to add what, how fast grains settle."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec import Struct

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.caution import CautionLine
from optimiser.domain.material import PARTS
from optimiser.domain.unknown import unjudged
from optimiser.explaining.cautions import at_the_bench
from optimiser.science.composition import unknown_waxes
from optimiser.science.gelling import DOUBT, GelPoint, SolidsAt, gel_point, reached
from optimiser.science.properties import figure
from optimiser.science.settling import seconds_per_kelvin
from optimiser.science.viscosity import MeltViscosity, melt_viscosity
from optimiser.workshop.cooling import days_until_hard, melt_to, ways_to_cool
from optimiser.workshop.grains import Grain, Melt, fallen
from optimiser.workshop.stages import COOLED, STAGES, stage_of

__all__ = ["Addition", "Pouring", "pouring_advice"]

# Percent below which a wax of which only the melting point is known is left aside.
LITTLE = 2.0
LIPIDS, MELTED = PARTS["lipids"], PARTS["fats and waxes"]
HEAT = "highest addition temperature"
# Grains that drop less than this share of the depth in the last kelvin before the
# melt holds them need no stirring into the gel.
NEGLIGIBLE_FALL = 0.1
# Percent of solids at which a stirred melt still runs from the jug: at the 3.5th power
# of the solids, so much holds about 30 times what 2 % does, some 20 to 50 Pa.
RUNS = 5.0


class Addition(Struct, frozen=True):
    """Something to stir in while the melt cools; temperatures in deg C.

    ``highest`` is the usual highest temperature for it (None: not known) and
    ``stands`` what some source says it stands. ``room`` is ``highest`` less the
    temperature at which the melt thickens: below zero the two do not overlap.
    """

    ingredient: str
    name: str
    category: str
    percent: float
    highest: float | None
    stands: float | None
    room: float | None
    evidence: str | None
    sources: tuple[str, ...]

    @property
    def verdict(self) -> str:
        """What it comes to: "fits", "tight", "narrow miss", "miss" or "unknown"."""
        if self.room is None:
            return "unknown"
        if self.room < 0.0:
            return "narrow miss" if self.room > -DOUBT else "miss"
        return "tight" if self.room < DOUBT else "fits"


class Pouring(Struct, frozen=True):
    """How to cool, stir and pour one formula; deg C, mm, percent.

    ``gel`` is None where the melt never holds 2 % of solids above 10 deg C, and where
    nobody knows: ``unjudged`` are names of what is unknown and may be much of it,
    ``waxes`` of those of whose melting nothing is known.
    ``volume_share`` counts the particles of known density only. ``melt_to`` is where
    the last crystals are gone of what is known, ``strangers`` the fats, oils and waxes
    of whose melting nothing is, ``cooling`` what to mind until it has set, and
    ``days_until_hard`` from a day to another. ``stages`` are the ingredients by the
    stage at which they go in, the most first; ``names`` theirs by key.
    """

    title: str
    gel: GelPoint | None
    pour_at: float | None
    stir_to_gel: bool
    wax_percent_of_lipids: float
    viscosity: MeltViscosity | None
    volume_share: float
    depth_mm: float
    room_temperature: float
    seconds_per_kelvin: tuple[float, float] | None
    grains: tuple[Grain, ...]
    additions: tuple[Addition, ...]
    not_judged: tuple[str, ...]
    melt_to: float | None
    strangers: tuple[str, ...]
    cooling: tuple[str, ...]
    days_until_hard: tuple[int, int]
    left_out: tuple[str, ...]
    cautions: tuple[CautionLine, ...]
    stages: Mapping[str, tuple[str, ...]]
    names: Mapping[str, str]
    unjudged: tuple[str, ...] = ()
    doubt: float = DOUBT
    waxes: tuple[str, ...] = ()

    @property
    def too_warm(self) -> bool:
        """Whether the room is too warm for the melt to hold its grains."""
        return self.gel is not None and self.gel.holds <= self.room_temperature


def pouring_advice(
    amounts: Mapping[str, float],
    catalogue: Catalogue,
    solids_at: SolidsAt,
    *,
    title: str = "",
    depth_mm: float = 30.0,
    room: float = 20.0,
    left_out: tuple[str, ...] = (),
) -> Pouring:
    """Return how to cool, stir and pour a formula.

    Parameters
    ----------
    amounts : mapping of ingredient key to percent of the product
    solids_at : function of an array of deg C, shape (n,), to percent, shape (n,)
        Solids of the formula's lipids at equilibrium, waxes included.
    depth_mm : float
        How far a grain may fall: the depth of the mould, [mm].
    room : float
        Temperature of the room, [deg C].
    left_out : tuple of str
        Names of the fats that ``solids_at`` knows nothing of.

    Notes
    -----
    With grains the melt is stirred until it holds them: one kelvin below the gel
    point (the middle of where 1 and 2 % are solid), or where 2 % are if that is
    lower, but never until it runs no more. Without, it is poured while it runs: as cool
    as what is stirred in asks for, if that goes in before it thickens.
    """
    used = {key: percent for key, percent in amounts.items() if percent > 0.0}
    much, waxes = unjudged(used, catalogue), unknown_waxes(used, catalogue)
    gel = None if much else gel_point(solids_at)
    if _is_melted(waxes, used, catalogue, gel):
        aside = (catalogue.ingredients[key].name for key in waxes)
        waxes, left_out = (), tuple(dict.fromkeys((*left_out, *aside)))
    gel = None if waxes else gel
    melt = _melt(used, catalogue, gel, room)
    grains, share, missing = fallen(used, catalogue, melt, depth_mm)
    additions = _additions(used, catalogue, gel)
    stir = gel is not None and _must_hold(used, catalogue, grains, depth_mm)
    lipids = {key: p for key, p in used.items() if _category(catalogue, key) in LIPIDS}
    strangers = _strangers(used, catalogue)
    wax = sum(p for key, p in lipids.items() if _category(catalogue, key) == "wax")
    return Pouring(
        title=title,
        gel=gel,
        pour_at=_pour_at(gel, stir, additions, solids_at),
        stir_to_gel=stir,
        wax_percent_of_lipids=100.0 * wax / sum(lipids.values()) if lipids else 0.0,
        viscosity=None if melt is None else melt.viscosity,
        volume_share=share,
        depth_mm=depth_mm,
        room_temperature=room,
        seconds_per_kelvin=None if melt is None else melt.seconds_per_kelvin,
        grains=grains,
        additions=additions,
        not_judged=(*missing, *(f"how {name} melts" for name in strangers)),
        melt_to=melt_to(used, catalogue),
        strangers=strangers,
        cooling=ways_to_cool(
            used, catalogue, None if gel is None else gel.thickens, known=not waxes
        ),
        days_until_hard=days_until_hard(used, catalogue),
        left_out=left_out,
        cautions=at_the_bench(used, catalogue),
        stages=_stages(used, catalogue, additions),
        names={key: catalogue.ingredients[key].name for key in used},
        unjudged=tuple(catalogue.ingredients[key].name for key in much),
        waxes=tuple(catalogue.ingredients[key].name for key in waxes),
    )


def _is_melted(
    waxes: Sequence[str],
    used: Mapping[str, float],
    catalogue: Catalogue,
    gel: GelPoint | None,
) -> bool:
    """Whether so little of waxes has melted where the rest thickens that it is oil."""
    points = [figure(catalogue, "melting point", key, None) for key in waxes]
    return (
        gel is not None
        and sum(used[key] for key in waxes) < LITTLE
        and all(each is not None and each.high < gel.thickens for each in points)
    )


def _strangers(used: Mapping[str, float], catalogue: Catalogue) -> tuple[str, ...]:
    """Return the names of what is melted although nothing is known of its melting.

    An oil with an INCI name pours; one without may be anything that was taken for it.
    What is unknown may melt, unless there is so little that it is left aside.
    """
    much = unjudged(dict(used), catalogue)
    solids, points = (
        catalogue.figures.get(each, {}) for each in ("solid fat", "melting point")
    )
    return tuple(
        each.name
        for key in used
        if ((each := catalogue.ingredients[key]).category in MELTED or key in much)
        and not (each.category == "liquid oil" and each.inci)
        and not (solids.get(key) or points.get(key) or catalogue.fats.solutes.get(key))
    )


def _stages(
    used: Mapping[str, float], catalogue: Catalogue, additions: Sequence[Addition]
) -> dict[str, tuple[str, ...]]:
    """Return what goes in at which stage, most first; what is added as it cools."""
    added = [each.ingredient for each in additions]
    found: dict[str, list[str]] = {stage: [] for stage in STAGES}
    for key in sorted(used, key=lambda key: -used[key]):
        stage = "add" if key in added else stage_of(catalogue.ingredients[key])
        found[stage].append(key)
    found["add"].sort(key=lambda key: added.index(key) if key in added else len(added))
    return {stage: tuple(keys) for stage, keys in found.items() if keys}


def _category(catalogue: Catalogue, key: str) -> str:
    return catalogue.ingredients[key].category


def _melt(
    used: Mapping[str, float],
    catalogue: Catalogue,
    gel: GelPoint | None,
    room: float,
) -> Melt | None:
    """Return the melt 1 K above its gel point; None without one above the room."""
    if gel is None or gel.middle + 1.0 <= room:
        return None
    at = gel.middle + 1.0
    viscosity = melt_viscosity(used, at, catalogue)
    return (
        None if viscosity is None else Melt(at, viscosity, seconds_per_kelvin(at, room))
    )


def _pour_at(
    gel: GelPoint | None,
    stir: bool,
    additions: tuple[Addition, ...],
    solids_at: SolidsAt,
) -> float | None:
    """Return the temperature to pour at, [deg C], never below what runs."""
    if gel is None:
        return None
    if stir:
        runs = reached(solids_at, RUNS)
        held = min(gel.holds, gel.middle - 1.0)
        return held if runs is None else max(held, min(runs, gel.holds))
    running = gel.thickens + DOUBT
    limits = [a.highest for a in additions if a.highest is not None]
    return min([running, *(each for each in limits if each >= gel.thickens)])


def _must_hold(
    used: Mapping[str, float],
    catalogue: Catalogue,
    grains: tuple[Grain, ...],
    depth_mm: float,
) -> bool:
    """Whether some grains would settle, or may: an exfoliant of unknown grain."""
    judged = {grain.ingredient for grain in grains}
    unknown = any(
        _category(catalogue, key) == "exfoliant" and key not in judged for key in used
    )
    return unknown or any(
        grain.last_kelvin_mm[1] > NEGLIGIBLE_FALL * depth_mm for grain in grains
    )


def _additions(
    used: Mapping[str, float], catalogue: Catalogue, gel: GelPoint | None
) -> tuple[Addition, ...]:
    """Return what goes in while cooling, the one that bears least heat last."""
    found = []
    for key, percent in used.items():
        ingredient = catalogue.ingredients[key]
        limit = figure(catalogue, HEAT, key, None)
        late = ingredient.category in COOLED and stage_of(ingredient) == "add"
        if limit is None and not late:
            continue
        highest = None if limit is None else limit.value
        room = None if highest is None or gel is None else highest - gel.thickens
        found.append(
            Addition(
                ingredient=key,
                name=ingredient.name,
                category=ingredient.category,
                percent=percent,
                highest=highest,
                stands=None if limit is None else limit.high,
                room=room,
                evidence=None if limit is None else limit.evidence,
                sources=() if limit is None else limit.sources,
            )
        )
    found.sort(key=lambda each: -(1e3 if each.highest is None else each.highest))
    return tuple(found)
