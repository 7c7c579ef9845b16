"""Random blends for property tests: bands, caps, windows and a total of 100."""

import numpy as np
from hypothesis import strategies as st

from optimiser.domain.material import Origin
from optimiser.domain.rule import Column, Goal, Link, Programme, Row, Rule
from optimiser.domain.wording import Fixed

HERE = Origin("random")


def rule(name, side, limit, amounts, per=(), per_constant=0.0, kind="band"):
    return Rule(
        id=name,
        wording=Fixed(name),
        kind=kind,
        side=side,
        limit=float(limit),
        unit="%",
        amounts=Row.of(amounts),
        per=Row.of(per),
        per_constant=per_constant,
        owner="arithmetic" if name == "total" else "wish",
        origin=HERE,
    )


@st.composite
def blends(draw, most=12, whole=False):
    """A programme over a few ingredients that may or may not have an answer."""
    size = draw(st.integers(3, most))
    number = st.integers(0, 40)
    costs = [draw(st.integers(1, 60)) / 10 for _ in range(size)]
    everything = [(i, 1.0) for i in range(size)]
    rules = [rule("total", "exact", 100, everything, per_constant=1.0)]
    for i in range(size):
        if draw(st.booleans()):
            cap = draw(st.integers(5, 60))
            rules.append(rule(f"cap {i}", "max", cap, [(i, 1.0)], per_constant=1.0))
    for k in range(draw(st.integers(0, 3))):
        group = draw(st.sets(st.integers(0, size - 1), min_size=1))
        low = draw(number)
        members = [(i, 1.0) for i in sorted(group)]
        rules.append(rule(f"band {k} min", "min", low, members, per_constant=1.0))
        top = low + draw(st.integers(0, 60))
        rules.append(rule(f"band {k} max", "max", top, members, per_constant=1.0))
    for k in range(draw(st.integers(0, 2))):
        figures = [draw(st.integers(0, 100)) for _ in range(size)]
        part = draw(st.sets(st.integers(0, size - 1), min_size=2))
        side = draw(st.sampled_from(["min", "max"]))
        limit = draw(st.integers(10, 80))
        above = [(i, float(figures[i])) for i in sorted(part)]
        below = [(i, 1.0) for i in sorted(part)]
        rules.append(rule(f"window {k}", side, limit, above, below))
    columns = [Column("amount", f"i{i}", 0.0, 100.0) for i in range(size)]
    links = []
    if whole:
        for i in range(size):
            columns.append(Column("used", f"i{i}", 0.0, 1.0, whole=True))
            links.append(Link(Row.of([(i, 1.0), (size + i, -100.0)]), -np.inf, 0.0))
            rules.append(
                rule(
                    f"least {i}", "min", 5, [(i, 1.0)], [(size + i, 1.0)], kind="least"
                )
            )
        flags = [(size + i, 1.0) for i in range(size)]
        most_used = draw(st.integers(1, 4))
        rules.append(
            rule("count", "max", most_used, flags, per_constant=1.0, kind="choice")
        )
    return Programme(
        ingredients=tuple(f"i{i}" for i in range(size)),
        columns=tuple(columns),
        rules=tuple(rules),
        links=tuple(links),
        goals=(Goal("cost", "EUR/kg", Row.of(enumerate(costs))),),
    )
