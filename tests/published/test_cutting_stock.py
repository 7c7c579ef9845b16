"""Whole numbers of packs against published cutting-stock cases.

A roll cut by a pattern is a pack that holds several widths: so many whole packs as
cover what is ordered, at the least count, is the question that a purchase asks.

Sources: P. C. Gilmore and R. E. Gomory, A linear programming approach to the cutting
stock problem, Operations Research 9:849, 1961, for the kind. The first case is the
example of V. Chvatal, Linear Programming, W. H. Freeman, 1983, chapter 13: raws 100
wide; orders and the count of its 37 patterns were read in a case study that gives them
after that book, the optima (452.25, and 453 whole rolls) are from memory. The second is
that of R. Fourer, D. M. Gay and B. W. Kernighan, AMPL, 2nd edition, 2003, chapter 15:
raws 110 wide; its orders were read in a published model file, its optima (46.25, and
47 whole rolls) are from memory. Both are solved by a second solver too.
"""

import math
from itertools import product

import pytest
from msgspec.structs import replace

from optimiser.domain.rule import Column, Goal, Link, Programme, Row
from optimiser.solving import optimise

CASES = {
    "Chvatal 1983": (100, {45: 97, 36: 610, 31: 395, 14: 211}, 37, 452.25, 453),
    "Fourer, Gay and Kernighan 2003": (
        110,
        {20: 48, 45: 35, 50: 24, 55: 10, 75: 8},
        None,
        46.25,
        47,
    ),
}


def patterns(width, widths):
    """Return every way to cut a roll, how often each width comes out of it."""
    most = [range(width // each + 1) for each in widths]
    return [
        cut
        for cut in product(*most)
        if 0 < sum(n * each for n, each in zip(cut, widths, strict=True)) <= width
    ]


def question(width, orders):
    cuts = patterns(width, [*orders])
    links = [
        Link(Row.of((n, cut[at]) for n, cut in enumerate(cuts)), count, math.inf)
        for at, count in enumerate(orders.values())
    ]
    columns = [Column("packs", str(cut), 0.0, 1000.0, whole=True) for cut in cuts]
    goal = Goal("rolls", "rolls", Row.of((n, 1.0) for n in range(len(cuts))))
    return Programme((), tuple(columns), (), tuple(links), (goal,))


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize("solver", ["highs", "cbc"])
def test_as_few_rolls_as_published_do(name, solver):
    width, orders, count, _, rolls = CASES[name]
    asked = question(width, orders)
    if count is not None:
        assert len(asked.columns) == count
    found = optimise(asked, solver)
    assert found.best[0] == pytest.approx(rolls, abs=1e-6)
    assert found.gap <= 1e-5


@pytest.mark.parametrize("name", CASES)
def test_parts_of_rolls_come_to_what_is_published(name):
    width, orders, _, parts, _ = CASES[name]
    asked = question(width, orders)
    columns = tuple(replace(column, whole=False) for column in asked.columns)
    found = optimise(replace(asked, columns=columns))
    assert found.best[0] == pytest.approx(parts, abs=1e-6)
