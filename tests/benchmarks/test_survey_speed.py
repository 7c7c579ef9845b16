"""How long a survey of thousands of recipes takes; measured, not asserted.

Run with ``pytest tests/benchmarks -s``.
"""

import csv
import subprocess
import sys
from pathlib import Path

from optimiser.reading import read_catalogue
from optimiser.reading.recipes import read_knowledge, read_recipe_table
from optimiser.studies.survey import Asked, survey

ROOT = Path(__file__).resolve().parents[2]
PUBLISHED = ROOT / "tests" / "survey" / "public_formulas.csv"
MANY = 5000


def many_recipes(path):
    """Write the published recipes again and again, under new names."""
    with PUBLISHED.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    names = list(dict.fromkeys(row["formula_id"] for row in rows))
    lines = {name: [r for r in rows if r["formula_id"] == name] for name in names}
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        for number in range(MANY):
            name = names[number % len(names)]
            for row in lines[name]:
                own = {"formula_id": f"{name}-{number}", "product_class": "bar"}
                writer.writerow({**row, **own})
    return path


def test_a_survey_of_five_thousand_recipes(benchmark, tmp_path):
    path = many_recipes(tmp_path / "many.csv")
    catalogue = read_catalogue(ROOT / "catalogues", "demo")
    knowledge = read_knowledge(ROOT / "catalogues", "demo", catalogue, None, [])

    def study():
        written = read_recipe_table(path, [])
        return survey(written, catalogue, knowledge, {}, Asked("bar", zone="IVA"))

    found = benchmark.pedantic(study, rounds=3)
    assert len(found.recipes) == MANY
    print(f"\n{MANY} recipes in {benchmark.stats['median']:.2f} s")


def test_the_whole_command_on_five_thousand_recipes(benchmark, tmp_path):
    path = many_recipes(tmp_path / "many.csv")
    options = ["--class", "bar", "--workshop", "demo", "--market", "EU", "--replace"]
    command = [sys.executable, "-m", "optimiser", "survey", str(path), *options]
    command += ["--to", str(tmp_path / "out")]

    def whole():
        subprocess.run(command, check=True, capture_output=True, cwd=ROOT)

    benchmark.pedantic(whole, rounds=3)
    print(f"\nthe whole command {benchmark.stats['median']:.2f} s")
