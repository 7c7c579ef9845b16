"""The same demo questions by scripts that somebody would write instead, in one table.

Run with ``pytest -s tests/benchmarks/test_alternatives_speed.py``. Each script loads
the matrix of a demo's first aim, whole numbers included, asks its library for the
least, and prints it; all must find the same. What is told is the processor's time of
the whole process, the median of a few runs in turn, as a ratio to the barest script.
Ours is the whole of ``formulate``: files read, aims in order, every answer proved,
prices and a page. Libraries that are not installed are told as such.
"""

import os
import subprocess
import sys
from importlib.util import find_spec

import numpy as np
import pytest

from tests.benchmarks.demos import ROOT, SCENARIOS, saved

TIMES = int(os.environ.get("BENCHMARK_TIMES", "5"))
OURS, BAREST = "formulate", "highspy"
LOADED = """\
import sys
import numpy as np
data = np.load(sys.argv[1])
cost, lower, upper = data["cost"], data["lower"], data["upper"]
low, high, whole = data["row_lower"], data["row_upper"], data["whole"]
starts, columns, values = data["starts"], data["columns"], data["values"]
rows = range(len(low))
"""
PULP = """\
import pulp
problem = pulp.LpProblem("demo", pulp.LpMinimize)
kinds = ["Integer" if each else "Continuous" for each in whole]
tops = [None if np.isinf(each) else each for each in upper]
x = [
    pulp.LpVariable(f"x{n}", lower[n], tops[n], kinds[n])
    for n in range(len(cost))
]
problem += pulp.lpSum(c * each for c, each in zip(cost, x) if c)
for r in rows:
    span = slice(starts[r], starts[r + 1])
    row = pulp.lpSum(v * x[c] for c, v in zip(columns[span], values[span]))
    if low[r] == high[r]:
        problem += row == low[r]
        continue
    if np.isfinite(low[r]):
        problem += row >= low[r]
    if np.isfinite(high[r]):
        problem += row <= high[r]
problem.solve(pulp.{solver}(msg=False))
print(pulp.value(problem.objective) or 0.0)
"""
SPARSE = """\
from scipy.sparse import csr_matrix
matrix = csr_matrix((values, columns, starts), shape=(len(low), len(cost)))
"""
# What a library is called, the module it needs, and a script.
SCRIPTS = {
    "highspy": (
        "highspy",
        """\
import highspy
solver = highspy.Highs()
solver.setOptionValue("output_flag", False)
model = highspy.HighsLp()
model.num_col_, model.num_row_ = len(cost), len(low)
model.col_cost_, model.col_lower_, model.col_upper_ = cost, lower, upper
model.row_lower_, model.row_upper_ = low, high
model.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
model.a_matrix_.start_, model.a_matrix_.index_ = starts, columns
model.a_matrix_.value_ = values
kinds = highspy.HighsVarType
model.integrality_ = [kinds.kInteger if each else kinds.kContinuous for each in whole]
solver.passModel(model)
solver.run()
print(solver.getInfo().objective_function_value)
""",
    ),
    "PuLP, HiGHS": ("pulp", PULP.replace("{solver}", "HiGHS")),
    "PuLP, CBC": ("pulp", PULP.replace("{solver}", "PULP_CBC_CMD")),
    "scipy linprog": (
        "scipy",
        f"""\
from scipy.optimize import linprog
{SPARSE}
same = low == high
up, down = np.isfinite(high) & ~same, np.isfinite(low) & ~same
from scipy.sparse import vstack
found = linprog(
    cost,
    A_ub=vstack([matrix[up], -matrix[down]]),
    b_ub=np.concatenate([high[up], -low[down]]),
    A_eq=matrix[same],
    b_eq=low[same],
    bounds=np.column_stack([lower, upper]),
    integrality=whole.astype(int),
)
print(found.fun)
""",
    ),
    "scipy milp": (
        "scipy",
        f"""\
from scipy.optimize import Bounds, LinearConstraint, milp
{SPARSE}
found = milp(
    cost,
    constraints=LinearConstraint(matrix, low, high),
    bounds=Bounds(lower, upper),
    integrality=whole.astype(int),
)
print(found.fun)
""",
    ),
    "cvxpy": (
        "cvxpy",
        f"""\
import cvxpy
{SPARSE}
x = cvxpy.Variable(len(cost), integer=[np.flatnonzero(whole)] if whole.any() else False)
same = low == high
up, down = np.isfinite(high) & ~same, np.isfinite(low) & ~same
top = np.isfinite(upper)
problem = cvxpy.Problem(
    cvxpy.Minimize(cost @ x),
    [
        matrix[same] @ x == low[same],
        matrix[up] @ x <= high[up],
        matrix[down] @ x >= low[down],
        x >= lower,
        x[top] <= upper[top],
    ],
)
problem.solve(solver=cvxpy.HIGHS)
print(problem.value)
""",
    ),
    "linopy": (
        "linopy",
        f"""\
import linopy, pandas
{SPARSE}
dense = matrix.toarray()
model = linopy.Model()
names = pandas.RangeIndex(len(cost), name="column")
whole_ones, others = names[whole], names[~whole]
terms, aim = [], []
for keys, kind in ((others, {{}}), (whole_ones, {{"integer": True}})):
    if len(keys):
        part = model.add_variables(
            lower=pandas.Series(lower[keys], keys),
            upper=pandas.Series(upper[keys], keys),
            name="whole" if kind else "amount",
            **kind,
        )
        terms.append((keys, part))
        aim.append((pandas.Series(cost[keys], keys) * part).sum())
model.add_objective(sum(aim[1:], aim[0]))
for r in rows:
    parts = [
        (pandas.Series(dense[r, keys], keys) * part).sum()
        for keys, part in terms
        if dense[r, keys].any()
    ]
    row = sum(parts[1:], parts[0])
    if low[r] == high[r]:
        model.add_constraints(row == low[r])
        continue
    if np.isfinite(low[r]):
        model.add_constraints(row >= low[r])
    if np.isfinite(high[r]):
        model.add_constraints(row <= high[r])
import contextlib, io, logging
logging.disable(logging.CRITICAL)
with contextlib.redirect_stdout(io.StringIO()):
    model.solve(solver_name="highs", io_api="direct", output_flag=False)
print(model.objective.value)
""",
    ),
}


def taken(command, folder):
    """Return the seconds of the processor that a command took, and what it printed."""
    env = {**os.environ, "PYTHONPYCACHEPREFIX": str(folder)}
    env["PYTHONPATH"] = os.pathsep.join([str(ROOT), *sys.path])
    env.pop("PYTHONDONTWRITEBYTECODE", None)
    before = os.times()
    done = subprocess.run(
        command, check=True, capture_output=True, cwd=folder, env=env, text=True
    )
    after = os.times()
    seconds = after.children_user - before.children_user
    return seconds + after.children_system - before.children_system, done.stdout


def told(name, ways, seconds):
    """Return one line of the table."""
    least = seconds[BAREST]
    cells = [
        f"{seconds[way] / least:>9.2f}" if way in seconds else " " * 9 for way in ways
    ]
    return f"{name:28}" + "".join(cells) + f"   {least:.3f} s"


def test_one_table_of_ratios_against_scripts_of_other_libraries(benchmark, tmp_path):
    lacking = [way for way, (module, _) in SCRIPTS.items() if not find_spec(module)]
    ways = [way for way in SCRIPTS if way not in lacking]
    commands = {}
    for place, way in enumerate(ways):
        script = tmp_path / f"script_{place}.py"
        script.write_text(LOADED + SCRIPTS[way][1], encoding="utf-8")
        commands[way] = [sys.executable, str(script)]
    lines = []

    def measure():
        for path in SCENARIOS:
            data = str(saved(path, tmp_path))
            asked = {way: [*command, data] for way, command in commands.items()}
            asked[OURS] = [sys.executable, "-m", "optimiser", "formulate", str(path)]
            all_taken = {way: [] for way in asked}
            least = {}
            for turn in range(TIMES + 1):
                for way, command in asked.items():
                    seconds, out = taken(command, tmp_path)
                    if turn:  # the first one compiles
                        all_taken[way].append(seconds)
                    if way != OURS:
                        least[way] = float(out.split()[-1])
            first = least[BAREST]
            assert least == pytest.approx(dict.fromkeys(least, first), abs=1e-5)
            middle = {way: float(np.median(all_taken[way])) for way in asked}
            benchmark.extra_info[path.stem] = middle
            lines.append(told(path.stem, [OURS, *ways], middle))

    benchmark.pedantic(measure, rounds=1)
    head = "".join(f"{way.replace('scipy ', ''):>9.9}" for way in (OURS, *ways))
    print(f"\n{'times ' + BAREST:28}{head}", *lines, sep="\n")
    for way in lacking:
        print(f"{way}: not installed, not measured")
