"""Speed, as ratios to a bare solver on the same machine; not part of the default run.

Run with ``pytest tests/benchmarks``; ``extra_info`` in ``--benchmark-json`` holds the
ratios, and they are printed at the end of each test.
"""

import os
import resource
import subprocess
import sys
import time

import highspy
import numpy as np
import pytest

from optimiser import formulate, read_scenario
from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import Ingredient, Origin, PackPrice
from optimiser.domain.rule import Column, Goal, Programme, Row, Rule
from optimiser.domain.wording import Fixed
from optimiser.explaining.clashes import smallest_clash
from optimiser.explaining.entering import unused_ingredients
from optimiser.explaining.prices import is_binding, price_sides
from optimiser.solving import Infeasible, Session, optimise
from tests.benchmarks.demos import ROOT, SCENARIOS, saved

SCENARIO = ROOT / "scenarios" / "massage_bar.toml"
HERE = Origin("benchmark")
CHILDREN = resource.RUSAGE_CHILDREN

BARE = """
import sys, highspy
import numpy as np
data = np.load(sys.argv[1])
solver = highspy.Highs()
solver.setOptionValue("output_flag", False)
model = highspy.HighsLp()
model.num_col_, model.num_row_ = len(data["cost"]), len(data["row_lower"])
model.col_cost_ = data["cost"]
model.col_lower_, model.col_upper_ = data["lower"], data["upper"]
model.row_lower_, model.row_upper_ = data["row_lower"], data["row_upper"]
model.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
model.a_matrix_.start_ = data["starts"]
model.a_matrix_.index_ = data["columns"]
model.a_matrix_.value_ = data["values"]
solver.passModel(model)
solver.run()
print(solver.getInfo().objective_function_value)
"""


def rule(name, side, limit, row, per_constant=1.0):
    return Rule(
        id=name,
        wording=Fixed(name),
        kind="band",
        side=side,
        limit=limit,
        unit="%",
        amounts=row,
        per_constant=per_constant,
        owner="arithmetic" if name == "total" else "wish",
        origin=HERE,
    )


def blend(size, rules, *, seed=1, infeasible=False):
    """Bands and product-wide windows around a hidden formula of 40 ingredients."""
    random = np.random.default_rng(seed)
    everything = np.arange(size)
    hidden = np.zeros(size)
    hidden[random.choice(size, min(size, 40), replace=False)] = 1.0
    hidden *= 100.0 / hidden.sum()
    made = [rule("total", "exact", 100.0, Row(everything, np.ones(size)))]
    for number in range(rules - 1):
        low = number % 4 < 2
        if number % 2:
            columns = np.flatnonzero(random.random(size) < 0.2)
            row, constant = Row(columns, np.ones(columns.size)), 1.0
        else:
            row, constant = Row(everything, random.random(size) * 100.0), 100.0
        value = row.at(hidden) / constant
        limit = value * 0.98 if low else value * 1.02 + 0.5
        side = "min" if low else "max"
        made.append(rule(f"rule {number}", side, round(limit, 3), row, constant))
    if infeasible:
        taken = Row(everything[: size // 2], np.ones(size // 2))
        made.append(rule("half", "max", 1.0, taken))
        rest = Row(everything[size // 2 :], np.ones(size - size // 2))
        made.append(rule("other half", "max", 90.0, rest))
    costs = random.random(size) * 40.0 + 3.0
    programme = Programme(
        tuple(f"i{i}" for i in range(size)),
        tuple(Column("amount", f"i{i}", 0.0, 100.0) for i in range(size)),
        tuple(made),
        (),
        (Goal("cost", "EUR/kg", Row(everything, costs / 100.0)),),
    )
    return programme, costs


def priced_catalogue(costs):
    keys = [f"i{i}" for i in range(costs.size)]
    ingredients = {key: Ingredient(key, key, None, "wax", HERE) for key in keys}
    prices = {
        key: (PackPrice(key, 1.0, float(cost), 0.0, "EUR", None, HERE),)
        for key, cost in zip(keys, costs, strict=True)
    }
    nothing = ({}, {}, (), {}, (), (), (), {})
    return Catalogue(ingredients, *nothing, prices, (), "EUR", {})


def in_turns(commands, cache, times=11):
    """Wall and processor times of commands run in turn, shape (commands, times, 2).

    Their modules are compiled beforehand, as an installed copy has them; where Python
    may not write beside the sources (PYTHONDONTWRITEBYTECODE) a checkout would compile
    them anew in every run. What was read is kept from the first run on, as a maker's
    is. Taken in turns, whatever else the machine does slows all of them alike; the
    least of several is what the work itself takes.
    """
    env = {**os.environ, "PYTHONPYCACHEPREFIX": str(cache), "PYTHONPATH": str(ROOT)}
    env |= {"XDG_CACHE_HOME": str(cache)}
    for name in ("PYTHONDONTWRITEBYTECODE", "OPTIMISER_NO_CACHE"):
        env.pop(name, None)
    taken = [[] for _ in commands]
    for turn in range(times + 1):
        for command, own in zip(commands, taken, strict=True):
            start, before = time.perf_counter(), resource.getrusage(CHILDREN)
            subprocess.run(command, check=True, capture_output=True, cwd=cache, env=env)
            wall, after = time.perf_counter() - start, resource.getrusage(CHILDREN)
            user, system = (
                getattr(after, name) - getattr(before, name)
                for name in ("ru_utime", "ru_stime")
            )
            if turn:  # the first one compiles
                own.append((wall, user + system))
    return np.array(taken)


@pytest.mark.parametrize("name", [path.stem for path in SCENARIOS])
def test_a_whole_formulate_against_a_bare_script(benchmark, tmp_path, name):
    path = ROOT / "scenarios" / f"{name}.toml"
    data, script = saved(path, tmp_path), tmp_path / "bare.py"
    script.write_text(BARE, encoding="utf-8")
    commands = (
        [sys.executable, str(script), str(data)],
        [sys.executable, "-m", "optimiser", "formulate", str(path)],
    )
    taken = benchmark.pedantic(in_turns, args=(commands, tmp_path), rounds=1)
    (bare, of_bare), (whole, of_whole) = np.median(taken, axis=1)
    least = np.min(taken, axis=1)
    benchmark.extra_info |= {
        "bare_s": bare,
        "whole_s": whole,
        "ratio": whole / bare,
        "least_ratio": least[1, 0] / least[0, 0],
        "processor_ratio": of_whole / of_bare,
        "least_processor_ratio": least[1, 1] / least[0, 1],
    }
    print(
        f"\n{name}: {whole:.3f} s, bare {bare:.3f} s: {whole / bare:.2f} times"
        f" ({least[1, 0] / least[0, 0]:.2f} at their least); processor"
        f" {of_whole / of_bare:.2f} times ({least[1, 1] / least[0, 1]:.2f})"
    )


def test_help_appears_at_once(benchmark, tmp_path):
    commands = ([sys.executable, "-m", "optimiser", "--help"],)
    walls = benchmark.pedantic(in_turns, args=(commands, tmp_path), rounds=1)[0, :, 0]
    taken = float(np.median(walls))
    benchmark.extra_info |= {"help_s": taken}
    print(f"\n--help {taken:.3f} s")


def test_the_demo_scenario_in_a_running_process(benchmark):
    scenario, catalogue = read_scenario(SCENARIO)
    benchmark(formulate, scenario, catalogue)


def explained(programme, costs):
    optimum = optimise(programme)
    assert not isinstance(optimum, Infeasible)
    binding = [
        number
        for number, each in enumerate(programme.rules)
        if is_binding(each, each.slack(optimum.amounts))
    ]
    sides = price_sides(optimum, binding)
    unused = unused_ingredients(optimum, priced_catalogue(costs))
    return len(binding), len(sides), len(unused)


def test_five_thousand_ingredients_and_two_hundred_rules(benchmark):
    programme, costs = blend(5000, 200)
    binding, _, unused = benchmark.pedantic(
        explained, args=(programme, costs), rounds=1
    )
    megabytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    benchmark.extra_info |= {"binding": binding, "unused": unused, "MB": megabytes}
    print(f"\n{binding} rules bind, {unused} unused, peak {megabytes:.0f} MB")


def bare_warm_resolves(programme, times):
    """Move one row's bound by 3 % and solve again, in plain highspy."""
    session = Session(programme)
    session.run()
    solver = session._solver
    random = np.random.default_rng(0)
    rows = random.integers(1, len(programme.rules), times)
    start = time.process_time()
    for row in rows:
        each = programme.rules[row]
        bound = each.limit * each.per_constant
        moved = bound * (0.97 if each.side == "min" else 1.03)
        for at in (moved, bound):
            low = at if each.side == "min" else -highspy.kHighsInf
            high = at if each.side == "max" else highspy.kHighsInf
            solver.changeRowBounds(int(row), low, high)
            if at == moved:
                solver.run()
    return (time.process_time() - start) / times


@pytest.mark.benchmark(timer=time.process_time)
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_all_two_sided_prices_against_warm_resolves(benchmark, seed):
    programme, _ = blend(50, 60, seed=seed)
    one = min(bare_warm_resolves(programme, 400) for _ in range(5))
    optimum = optimise(programme)
    binding = [
        number
        for number, each in enumerate(programme.rules)
        if is_binding(each, each.slack(optimum.amounts))
    ]

    def prices():
        return price_sides(optimum, binding)

    benchmark(prices)
    ratio = benchmark.stats["min"] / one  # the least of both is the work itself
    benchmark.extra_info |= {"warm_resolve_s": one, "resolves": ratio}
    print(f"\n{len(binding)} rules: the time of {ratio:.1f} warm re-solves")


def test_a_clash_on_fifty_ingredients_and_sixty_rules(benchmark):
    programme, _ = blend(50, 60, infeasible=True)

    def clash():
        found = optimise(programme)
        assert isinstance(found, Infeasible)
        return smallest_clash(found.session)

    print(f"\n{len(benchmark(clash))} rules clash")
