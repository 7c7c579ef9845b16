"""The aims of a scenario, in order, each with its slack."""

from __future__ import annotations

from optimiser.domain.scenario import AIMS, Aim
from optimiser.reading.asking import Asking

__all__ = ["aims_of"]

MOST_SLACK = 1e9


def aims_of(asking: Asking) -> tuple[Aim, ...]:
    """Return the aims in order, each with its slack in its own unit."""
    table = asking.file.aim
    order = ["cost"] if table is None or table.order is None else table.order
    origin = asking.origin("aim", "order")
    if not order:
        fix = "name at least one, or leave out the line"
        asking.say(origin, "names no aim", fix)
    slack: dict[str, float] = {}
    for text, value in ({} if table is None else table.slack).items():
        name = asking.one_of("aim", AIMS, text, asking.origin("aim", "slack"))
        place = asking.origin("aim", "slack")
        asking.within(value, 0, MOST_SLACK, place, f".{text}")
        slack[name or text] = value
    names = [asking.one_of("aim", AIMS, text, origin) for text in order]
    known = [name for name in names if name is not None]
    _check_aims(asking, known, slack)
    return tuple(Aim(name, slack.get(name, 0.0)) for name in dict.fromkeys(known))


def _check_aims(asking: Asking, order: list[str], slack: dict[str, float]) -> None:
    """Say which aims are there twice, need a base, or have a slack for nothing."""
    origin = asking.origin("aim", "order")
    for name in dict.fromkeys(order):
        if order.count(name) > 1:
            asking.say(origin, "is there twice", "name each aim once", name)
        if "change" in name and not asking.file.base and asking.sound("base"):
            fix = "write a [base] to change from"
            asking.say(origin, "needs a base", fix, name)
    for name in slack:
        if name in AIMS and name not in order and asking.sound("aim"):
            fix = "add it to the order, or take its slack out"
            place = asking.origin("aim", "slack")
            asking.say(place, "is not among the aims", fix, name)
