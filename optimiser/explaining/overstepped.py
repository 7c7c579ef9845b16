"""Limits of suppliers and of practice that a formula passes, for they are eased."""

from __future__ import annotations

from collections.abc import Mapping

from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.rule import Rule
from optimiser.domain.scenario import Scenario
from optimiser.rules import build, complete

__all__ = ["OUTSIDE", "Overstepped", "overstepped"]

# Whose limits are not the maker's own, and may be eased all the same.
OUTSIDE = frozenset({"supplier", "practice"})
KEPT = 1e-6  # of a limit: less is rounding


class Overstepped(Struct, frozen=True):
    """A rule as it is where nobody eases it, and the ``value`` that a formula has."""

    rule: Rule
    value: float


def overstepped(
    amounts: Mapping[str, float], scenario: Scenario, catalogue: Catalogue
) -> tuple[Overstepped, ...]:
    """Return the limits of others that a formula keeps only as they are eased here.

    Whatever moved or dropped one, it is the limit as its own row has it that counts: a
    supplier is not asked by a scenario.

    Parameters
    ----------
    amounts : mapping of ingredient key to percent
    """
    if not scenario.eased:
        return ()
    used = {key: percent for key, percent in amounts.items() if percent > 0.0}
    plain = build(replace(scenario, eased={}, aims=()), catalogue, tuple(used))
    columns = complete(plain, used)
    found = []
    for rule in plain.rules:
        slack = rule.slack(columns) if rule.owner in OUTSIDE else None
        if slack is not None and slack < -KEPT * max(1.0, abs(rule.limit)):
            found.append(Overstepped(rule, rule.value(columns) or 0.0))
    return tuple(found)
