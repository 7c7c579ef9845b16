"""Guards: where adding solid fat up is known to mislead, a rule keeps away."""

from __future__ import annotations

from collections.abc import Iterator

from optimiser.domain.material import Origin
from optimiser.domain.rule import Rule
from optimiser.domain.scenario import Bound
from optimiser.rules.shares import share_rules
from optimiser.rules.space import Space

__all__ = ["LAURIC_SHARE", "rules"]

# Lauric fats soften cocoa-type butters far below the sum (eutectic: Sabariah et al.,
# JAOCS 75:905, 1998, already with 10-20 % of a lauric fat in cocoa butter).
LAURIC_SHARE = 10.0


def rules(space: Space) -> Iterator[Rule]:
    """Yield the cap on lauric fats that goes with a firmness or solid-fat window."""
    guard = space.scenario.lauric_guard
    lauric = [
        column
        for column in space.members("butters")
        if space.ingredient(column).family == "lauric"
    ]
    modelled = any(
        window.property in {"solid fat", "firmness"}
        for window in space.scenario.windows
    )
    if guard is None and modelled:
        origin = Origin(space.scenario.file, field="guard.lauric")
        guard = Bound("lauric", None, LAURIC_SHARE, "butters", None, origin)
    if guard is None or not lauric:
        return
    reasoned = Bound(
        guard.what,
        guard.low,
        guard.high,
        guard.of,
        guard.why or "beyond that the sum of solid fats misleads",
        guard.origin,
    )
    yield from share_rules(
        space, reasoned, lauric, kind="guard", name="lauric fats", owner="model"
    )
