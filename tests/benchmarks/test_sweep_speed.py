"""Sweeps of prices against bare warm re-solves and against rebuilds through PuLP.

Run with ``pytest tests/benchmarks/test_sweep_speed.py -s``. Times are of this process's
processor, so that a busy machine does not blur the ratios.
"""

import time

import numpy as np
import pulp
import pytest
from msgspec.structs import replace

from optimiser.domain.rule import Row
from optimiser.solving import Session, reprice
from optimiser.solving.arrays import Arrays
from optimiser.solving.cbc import to_pulp
from tests.benchmarks.test_speed import blend

LISTS = 10_000
REBUILDS = 100


def price_lists(costs, count, spread=0.1):
    """Each price moves on its own, by about ``spread`` of itself."""
    random = np.random.default_rng(0)
    moves = 1.0 + spread * random.standard_normal((count, costs.size)).clip(-2, 2)
    return np.ascontiguousarray(costs * moves / 100.0)


def bare(programme, lists):
    """Change the costs, run, read the amounts; nothing is proved."""
    session = Session(programme)
    session.run()
    solver = session._solver
    columns = np.arange(lists.shape[1], dtype=np.int32)
    start = time.process_time()
    found = []
    for row in lists:
        solver.changeColsCost(columns.size, columns, row)
        solver.run()
        found.append(solver.getSolution().col_value)
    return time.process_time() - start, np.array(found)


def rebuilt(programme, lists, *, plain):
    """Build the problem anew for each list, and solve it.

    ``plain`` takes PuLP and its own way to HiGHS, otherwise this program's.
    """
    arrays = Arrays.of(programme)
    start = time.process_time()
    for row in lists:
        goal = replace(programme.goals[0], row=Row(np.arange(row.size), row))
        if plain:
            to_pulp(arrays, goal).solve(pulp.HiGHS(msg=False, threads=1))
        else:
            Session(replace(programme, goals=(goal,)), arrays).run()
    return time.process_time() - start


@pytest.mark.parametrize("spread", [0.03, 0.1])
@pytest.mark.parametrize("seed", [1, 2])
def test_ten_thousand_price_lists_of_fifty_by_sixty(benchmark, seed, spread):
    programme, costs = blend(50, 60, seed=seed)
    lists = price_lists(costs, LISTS, spread)
    one, amounts = bare(programme, lists)
    plain, ours_rebuilt = (
        rebuilt(programme, lists[:REBUILDS], plain=each) * LISTS / REBUILDS
        for each in (True, False)
    )

    def ours():
        start = time.process_time()
        result = reprice(programme, lists)
        return time.process_time() - start, result

    taken, result = benchmark.pedantic(ours, rounds=1)
    assert np.einsum("ij,ij->i", lists, amounts) == pytest.approx(result.values)
    assert result.gaps.max() <= 1e-6
    assert taken < one  # proof and all
    benchmark.extra_info |= {
        "bare_s": one,
        "ours_s": taken,
        "throughput_of_bare": one / taken,
        "times_a_rebuild": plain / taken,
        "times_our_rebuild": ours_rebuilt / taken,
    }
    print(
        f"\n{LISTS} price lists, {spread:.0%} moves: {taken:.2f} s with proof, bare"
        f" {one:.2f} s ({100 * one / taken:.0f} %); {plain / taken:.1f} times a"
        f" rebuild in PuLP, {ours_rebuilt / taken:.1f} times our own rebuild"
    )
