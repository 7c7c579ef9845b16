"""Guards: where adding figures up is known to mislead, a rule keeps away."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import PARTS, Origin
from optimiser.domain.properties import melts
from optimiser.domain.rule import Rule
from optimiser.domain.scenario import Bound
from optimiser.domain.wording import number
from optimiser.rules import windows
from optimiser.rules.shares import share_rules
from optimiser.rules.space import Space
from optimiser.science.excess import COVERED, margin

__all__ = ["LAURIC_SHARE", "WAX_SHARE", "lauric_share", "rules", "wax_share"]

# Lauric fats soften cocoa-type butters far below the sum (eutectic: Sabariah et al.,
# JAOCS 75:905, 1998, already with 10-20 % of a lauric fat in cocoa butter).
LAURIC_SHARE = 10.0
# Firmness points of waxes come from 2 to 10 % of wax in oil, where the effect flattens
# (Hwang et al., JAOCS 90:1705, 2013); balms hold up to 28-30 % of the lipids.
WAX_SHARE = 30.0
BUTTERS, LIPIDS = frozenset(PARTS["butters"]), frozenset(PARTS["lipids"])


def rules(space: Space) -> Iterator[Rule]:
    """Yield the caps and the margins that go with firmness and solid-fat windows."""
    counted = {window.property for window in space.scenario.windows}
    lauric = [
        column
        for column in space.members("butters")
        if space.ingredient(column).family == "lauric"
    ]
    guard = space.scenario.lauric_guard
    if guard is None and any(map(melts, counted)):
        guard = _default("lauric", LAURIC_SHARE, "butters")
    why = _why(guard, LAURIC_SHARE, "butters", "the sum of solid fats misleads")
    yield from _cap(space, guard, lauric, "lauric fats", why)
    waxes = space.members("wax")
    guard_wax = space.scenario.wax_guard
    if guard_wax is None and "firmness" in counted:
        guard_wax = _default("wax", WAX_SHARE, "lipids")
    why = _why(guard_wax, WAX_SHARE, "lipids", "what waxes add to firmness is a guess")
    yield from _cap(space, guard_wax, waxes, "waxes together", why)
    yield from _margins(space, _greatest_share(guard, lauric))


def lauric_share(amounts: Mapping[str, float], catalogue: Catalogue) -> float:
    """Return the lauric fats in the butters of a formula, percent of these.

    Above `LAURIC_SHARE` the straight sums of solid fat and firmness mislead.
    """
    known = catalogue.ingredients
    butters = {k: x for k, x in amounts.items() if known[k].category in BUTTERS}
    lauric = sum(x for k, x in butters.items() if known[k].family == "lauric")
    return 100.0 * lauric / sum(butters.values()) if lauric else 0.0


def wax_share(amounts: Mapping[str, float], catalogue: Catalogue) -> float:
    """Return the waxes in the lipids of a formula, percent of these (`WAX_SHARE`)."""
    known = catalogue.ingredients
    lipids = {k: x for k, x in amounts.items() if known[k].category in LIPIDS}
    waxes = sum(x for k, x in lipids.items() if known[k].category == "wax")
    return 100.0 * waxes / sum(lipids.values()) if waxes else 0.0


def _why(guard: Bound | None, most: float, of: str, why: str) -> str:
    """Return why a guard is there: the share from which the model misleads is fixed."""
    if guard is None or (guard.high == most and guard.of == of):
        return f"beyond that {why}"
    return f"above {number(most)} % of the {of} {why}"


def _default(what: str, most: float, of: str) -> Bound:
    origin = Origin("built in", field=f"guard.{what}")
    return Bound(what, None, most, of, None, origin)


def _cap(
    space: Space, guard: Bound | None, columns: Sequence[int], name: str, why: str
) -> Iterator[Rule]:
    """Yield a guard's sides with its reason; none where nothing could exceed it."""
    if guard is not None and columns:
        reasoned = replace(guard, why=guard.why or why)
        yield from share_rules(
            space, reasoned, columns, kind="guard", name=name, owner="model"
        )


def _greatest_share(guard: Bound | None, lauric: Sequence[int]) -> float:
    """Return the greatest share of lauric fats in the lipids that is allowed, %.

    A cap is on the butters or the lipids; butters are part of the lipids.
    """
    if not lauric:
        return 0.0
    if guard is None or guard.high is None:
        return 100.0
    return guard.high if guard.of in {"butters", "lipids", "fats"} else 100.0


def _margins(space: Space, share: float) -> Iterator[Rule]:
    """Yield each least-solid-fat window with the room its straight sum needs."""
    origin = space.scenario.margin
    if origin is None:
        return
    for window in space.scenario.windows:
        if window.property != "solid fat" or window.at is None or window.low is None:
            continue
        room = margin(window.at, share)
        low = min(100.0, window.low + room)
        lauric = f"up to {number(share)} % lauric fats" if share else "no lauric fats"
        why = (
            f"{number(round(room, 1))} points of room: with {lauric} the straight sum"
            f" is no more than that too high in {COVERED}, by a model good to 8 points"
        )
        raised = replace(window, low=low, high=None, why=why)
        for rule in windows.rules_of(space, raised, "guard/margin"):
            yield replace(
                rule,
                kind="guard",
                owner="model",
                origin=origin,
                evidence="estimated",
            )
