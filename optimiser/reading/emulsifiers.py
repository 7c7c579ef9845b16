"""The emulsifiers of a scenario: totals to try, and how near their HLB must come."""

from __future__ import annotations

from optimiser.domain.scenario import Emulsify
from optimiser.reading.asking import Asking

__all__ = ["emulsify_of"]

MOST_TOTALS = 40
MOST_WITHIN = 20  # HLB goes from 0 to 20


def emulsify_of(asking: Asking) -> Emulsify | None:
    """Return how emulsifiers are matched to the lipids; None if not spoken of."""
    table = asking.file.emulsifiers
    if table is None:
        return None
    origin = asking.origin("emulsifiers", "total")
    if not table.total and asking.sound("emulsifiers"):
        fix = "list percents of the lipids, as in total = [10, 12, 14]"
        asking.say(origin, "names no total", fix)
    if len(table.total) > MOST_TOTALS:
        fix = f"list at most {MOST_TOTALS}"
        asking.say(origin, f"lists {len(table.total)} totals to try", fix)
    for value in table.total:
        if not 0 < value <= 100:
            fix = "write percents of the lipids, above 0 and up to 100"
            asking.say(origin, "is no total", fix, f"{value:g}")
    if table.within <= 0:
        place = asking.origin("emulsifiers", "within")
        fix = "write how far apart the two may be, as in 0.3"
        asking.say(place, "is not above zero", fix, f"{table.within:g}")
    else:
        place = asking.origin("emulsifiers", "within")
        asking.within(table.within, 0, MOST_WITHIN, place)
    return Emulsify(tuple(dict.fromkeys(table.total)), table.within, origin)
