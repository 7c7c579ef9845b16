"""Rules that a scenario gives another limit, or lets go, by their ids."""

from __future__ import annotations

from optimiser.domain.material import Origin
from optimiser.reading.asking import GREATEST, Asking

__all__ = ["eased_of"]


def eased_of(asking: Asking) -> dict[str, tuple[float | None, Origin]]:
    """Return the new limit of each eased rule; None for one that does not count.

    Whether a rule of that id is there, may be eased and can have that limit shows when
    the rules are built: each says so itself.
    """
    found: dict[str, tuple[float | None, Origin]] = {}
    for rule_id, limit in asking.file.eased.items():
        origin = asking.origin("eased", rule_id)
        asking.within(limit, -GREATEST, GREATEST, origin)
        found[rule_id] = (limit, origin)
    dropped = asking.file.dropped
    for rule_id in () if dropped is None else dropped.rules:
        origin = asking.origin("dropped", "rules")
        if found.get(rule_id, (0.0,))[0] is None:
            asking.say(origin, "is listed twice", "list each rule once", rule_id)
        elif rule_id in found:
            fix = "give the rule a limit or drop it"
            asking.say(origin, "is eased as well", fix, rule_id)
        found[rule_id] = (None, origin)
    return found
