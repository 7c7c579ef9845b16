"""Rules that a scenario gives another limit, or lets go, by their ids."""

from __future__ import annotations

from optimiser.domain.material import Origin
from optimiser.reading.asking import GREATEST, Asking
from optimiser.reading.bounds import MOST_CHOICES
from optimiser.reading.kinds.ratios import MOST_RATIO

__all__ = ["eased_of"]

# First words of the ids of rules on a share, whose limits are percentages.
SHARES = (
    "band",
    "limit",
    "pin",
    "minor",
    "practice",
    "supplier",
    "constituent",
    "exclude",
    "stock",
    "guard",
    "least",
    "closeness",
)
# The least limit of a logarithmic window: a viscosity of nothing has no logarithm.
LEAST_VISCOSITY = 1e-6


def eased_of(asking: Asking) -> dict[str, tuple[float | None, Origin]]:
    """Return the new limit of each eased rule; None for one that does not count.

    Whether a rule of that id is there, and may be eased, shows when the rules are
    built.
    """
    found: dict[str, tuple[float | None, Origin]] = {}
    for rule_id, limit in asking.file.eased.items():
        origin = asking.origin("eased", rule_id)
        if rule_id.partition("/")[0] in SHARES:
            asking.percent(limit, origin)
        else:
            asking.within(limit, *_ends(rule_id), origin)
        if rule_id.startswith("choice/") and not limit.is_integer():
            fix = "write how many ingredients, without a fraction"
            asking.say(origin, "is no whole number", fix, f"{limit:g}")
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


def _ends(rule_id: str) -> tuple[float, float]:
    """Return the least and the greatest that the limit of a rule can be."""
    kind, _, rest = rule_id.partition("/")
    if kind == "choice":
        return 0.0, MOST_CHOICES
    if kind == "ratio":
        return 0.0, MOST_RATIO
    if rest.startswith("viscosity/") and kind == "window":
        return LEAST_VISCOSITY, GREATEST
    return -GREATEST, GREATEST
