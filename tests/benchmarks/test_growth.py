"""How the work grows with ingredients and rules, beside the solver's own.

Run with ``pytest -s tests/benchmarks/test_growth.py``. Each size is a workspace in
files, read, built, solved and answered in a process of its own; what is told is the
processor's time of each stage in seconds, and the exponent of its growth: the slope of
a line through the logarithms. The bare solver is asked for the first aim alone.
"""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

ROOT = Path(__file__).resolve().parents[2]
STAGES = ("read", "build", "solver", "formulate", "page")
CATEGORIES = ("hard butter", "soft butter", "wax", "liquid oil", "fatty alcohol")
MEASURED = """\
import json, sys, time
import highspy
import numpy as np
from optimiser.explaining import formulate
from optimiser.presenting import answer_page, as_text
from optimiser.reading import read_scenario
from optimiser.rules import build
from optimiser.solving.arrays import Arrays, dense

taken, last = {}, time.process_time()
def stage(name):
    global last
    now = time.process_time()
    taken[name] = now - last
    last = time.process_time()

scenario, catalogue = read_scenario(sys.argv[1])
stage("read")
programme = build(scenario, catalogue)
stage("build")
a = Arrays.of(programme)
cost = dense(programme.goals[0], a.lower.size)
last = time.process_time()
solver = highspy._core._Highs()
solver.setOptionValue("output_flag", False)
solver.setOptionValue("threads", 1)
model = highspy.HighsLp()
model.num_col_, model.num_row_ = len(cost), len(a.row_lower)
model.col_cost_, model.col_lower_, model.col_upper_ = cost, a.lower, a.upper
model.row_lower_, model.row_upper_ = a.row_lower, a.row_upper
model.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
model.a_matrix_.start_ = a.starts.astype(np.int32)
model.a_matrix_.index_ = a.columns.astype(np.int32)
model.a_matrix_.value_ = a.values
kinds = highspy.HighsVarType
if a.whole.any():
    model.integrality_ = [kinds.kInteger if x else kinds.kContinuous for x in a.whole]
solver.passModel(model)
solver.run()
stage("solver")
answer = formulate(scenario, catalogue)
stage("formulate")
as_text(answer_page(answer, catalogue.sources, full=False))
stage("page")
taken["status"] = answer.status
print(json.dumps(taken))
"""


def workspace(folder, ingredients, rules, choices=0):
    """Write so many ingredients, and a scenario of so many rules; return its path."""
    shutil.copytree(ROOT / "catalogues", folder / "catalogues", dirs_exist_ok=True)
    shop = folder / "catalogues" / "workshops" / "large"
    shop.mkdir(exist_ok=True)
    random = np.random.default_rng(1)
    figures = random.integers(30, 150, ingredients)
    prices = random.integers(4, 40, ingredients)
    names = [f"material {number:05}" for number in range(ingredients)]
    kinds = [CATEGORIES[number % len(CATEGORIES)] for number in range(ingredients)]
    tables = {
        "ingredients.csv": (
            "key,name,inci,inci_evidence,category,source",
            (f"m{n},{name},Material {n},memory,{kind},mine"
             for n, (name, kind) in enumerate(zip(names, kinds, strict=True))),
        ),
        "properties.csv": (
            "ingredient,property,value,unit,evidence,source",
            (f"m{n},sheen,{x},GU,measured,mine" for n, x in enumerate(figures)),
        ),
        "prices.csv": (
            "ingredient,pack,unit,price,currency,date",
            (f"m{n},1,kg,{x},EUR,2026-11-02" for n, x in enumerate(prices)),
        ),
        "sources.csv": ("key,reference,licence,read,note",
                        ("mine,Invented for a measurement,own,2026-11-02,",)),
    }  # fmt: skip
    for name, (head, rows) in tables.items():
        text = "\n".join((head, *rows, ""))
        (shop / name).write_text(text, encoding="utf-8")
    shutil.copy(ROOT / "catalogues/workshops/demo/scale.toml", shop)
    lines = [
        'title = "Large"', 'workshop = "large"', 'use = "leave-on"', "[batch]",
        'size = "2 kg"', "[bands]",
        *(f'"{each}" = {{ min = 5, max = 40 }}' for each in CATEGORIES),
        "[[windows]]", 'property = "sheen"', "min = 60", "max = 100", "[limits]",
        *(f'"{each}" = {{ max = {2 + number % 9} }}'
          for number, each in enumerate(names[:rules])),
    ]  # fmt: skip
    if choices:
        lines += ["[least_if_used]"]
        lines += [f'"{each}" = 1' for each in names[:choices]]
    path = folder / "large.toml"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def measured(path):
    """Return the seconds of each stage, in a process of its own."""
    env = {**os.environ, "PYTHONPATH": os.pathsep.join([str(ROOT), *sys.path])}
    command = [sys.executable, "-c", MEASURED, str(path)]
    done = subprocess.run(command, check=True, capture_output=True, env=env, text=True)
    return json.loads(done.stdout)


def exponent(sizes, seconds):
    """Return the slope of a straight line through the logarithms."""
    return float(np.polyfit(np.log(sizes), np.log(np.maximum(seconds, 1e-4)), 1)[0])


@pytest.mark.parametrize(
    ("what", "sizes", "asked"),
    [
        ("ingredients", (50, 200, 1000, 3000, 10_000), lambda n: (n, 50, 0)),
        ("rules", (50, 200, 1000), lambda n: (1000, n, 0)),
        ("choices", (10, 50, 200), lambda n: (3000, 50, n)),
    ],
)
def test_growth_beside_the_solvers_own(benchmark, tmp_path, what, sizes, asked):
    found = []

    def measure():
        for size in sizes:
            folder = tmp_path / str(size)
            found.append(measured(workspace(folder, *asked(size))))

    benchmark.pedantic(measure, rounds=1)
    assert {each["status"] for each in found} == {"answered"}
    print(f"\n{what:>12}" + "".join(f"{each:>11}" for each in STAGES))
    for size, each in zip(sizes, found, strict=True):
        print(f"{size:>12}" + "".join(f"{each[x]:>11.3f}" for x in STAGES))
    slopes = {x: exponent(sizes, [each[x] for each in found]) for x in STAGES}
    print(f"{'exponent':>12}" + "".join(f"{slopes[x]:>11.2f}" for x in STAGES))
    benchmark.extra_info[what] = slopes
