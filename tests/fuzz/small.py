"""A small workspace cut out of the shipped one, so that a run of it takes little."""

import csv
import io
import shutil
from pathlib import Path

from tests.fuzz.own import own

ROOT = Path(__file__).resolve().parents[2]
KEPT = {
    "cocoa_butter": "cocoa butter",
    "shea_butter": "refined shea butter",
    "beeswax": "beeswax",
    "sweet_almond_oil": "sweet almond oil",
    "rapeseed_oil": "rapeseed oil",
    "cetyl_alcohol": "cetyl alcohol",
    "tocopherols": "mixed tocopherols",
    "lavender_oil": "lavender oil",
}
LIMITS = ("preservatives.csv", "restricted.csv")
WHOLE = (
    "climate.csv",
    "labels.csv",
    "net_content.csv",
    "triglyceride_correlation.csv",
    "triglyceride_fusion.csv",
)
ROWS = 6  # of a table that is not about ingredients
SCENARIO = """\
title = "Small bar"
workshop = "demo"
product = "massage bar"
use = "leave-on"
market = ["EU"]

[batch]
size = "2 kg"

[aim]
order = ["change", "cost"]
slack = { change = 1.0 }

[base]
"cocoa butter" = 38
"refined shea butter" = 20
"beeswax" = 11
"sweet almond oil" = 27
"cetyl alcohol" = 2.5
"mixed tocopherols" = 0.5
"lavender oil" = 1.0

[bands]
"hard butter" = { min = 30, max = 55, why = "snap" }

[limits]
"beeswax" = { max = 14, of = "lipids" }

[pins]
"lavender oil" = 1.0

[parts]
"soft" = ["soft butter", "liquid oil"]

[[windows]]
property = "firmness"
at = "25 degC"
over = "lipids"
min = 30

[[ratios]]
first = ["wax"]
second = ["liquid oil"]
max = 2

[choices]
"liquid oil" = { at_most = 2 }

[least_if_used]
default = 0.5

[closeness]
by_ingredient = 40

[guard]
second_opinion = false

[exclude]
categories = ["water"]
"""
MORE = {
    "scenarios/child.toml": 'extends = "bar.toml"\ntitle = "Child"\n'
    '[bands]\n"hard butter" = false\n[eased]\n"practice/beeswax/max" = 40\n',
    "scenarios/theme.toml": 'title = "Vegan"\n[exclude]\nvegan = true\n',
    "scenarios/assessed.toml": 'extends = "bar.toml"\n[envelope]\nfile = "env.toml"\n',
    "scenarios/env.toml": 'title = "List"\n[[lists]]\nname = "scent"\nmax = 1\n'
    'caps = { "lavender oil" = 1 }\n',
    "scenarios/grid.toml": 'scenarios = ["bar.toml"]\nprice_list = "months.csv"\n'
    '[over]\n"limits.beeswax.max" = [12, 14]\n[prices]\n"rapeseed oil" = [4, 5]\n',
    "scenarios/months.csv": "case,ingredient,price_per_kg\nmay,cocoa butter,20\n"
    "june,cocoa butter,22.5\nmay,beeswax,18\n",
    "scenarios/plan.toml": "today = 2026-11-16\nreformulate = true\nwithin = 20\n"
    '[[batches]]\nscenario = "bar.toml"\nunits = 24\nnet = "60 g"\n'
    'date = 2026-12-01\n[[batches]]\nscenario = "child.toml"\nsize = "2 kg"\n'
    "count = 2\ndate = 2026-12-02\n",
    "formula.csv": "ingredient,percent\ncocoa butter,45\nbeeswax,12\n"
    "rapeseed oil,42\nlavender oil,1\n",
    "grams.csv": "ingredient,grams\ncocoa butter,450\nbeeswax,120\nrapeseed oil,430\n",
    "kitchen.csv": "ingredient,amount,unit\ncocoa butter,1/2,cup\nbeeswax,30,g\n"
    "rapeseed oil,3,tbsp\nlavender oil,20,drops\n",
    "formula.toml": '[formula]\n"cocoa butter" = 50\n"rapeseed oil" = 50\n',
    "formula.json": '{"formula": [{"ingredient": "cocoa_butter", "percent": 60},'
    ' {"ingredient": "rapeseed_oil", "percent": 40}]}\n',
    "recipes.csv": "recipe,class,ingredient,amount,unit,note\n"
    "A,lotion bar,cocoa butter,1/3,cup,book\n,,beeswax,30,g,\n"
    ",,sweet almond oil,2-3,tbsp,\nB,lotion bar,cocoa butter,40,%,\n,,beeswax,20,%,\n"
    ",,rapeseed oil,40,%,\nC,lotion bar,shea butter,1,part,\n,,beeswax,1,part,\n"
    ",,sweet almond oil,1 1/2,part,\n",
    "trials.csv": "trial,room,verdict,cocoa butter,beeswax,rapeseed oil\n"
    "one,25 degC,right,50,15,35\ntwo,25 degC,too soft,30,5,65\n"
    "three,30 degC,too hard,60,30,10\n",
    "weights.csv": "unit,net\n1,60.2 g\n2,59.8 g\n3,61\n4,60.4\n",
    "answers.csv": "recipe,ingredient,answer\nA,beeswax,30 g\n",
    "names.csv": "written,stands_for\ncocoa wafers,cocoa butter\n",
    "sheet.csv": "stage,ingredient,percent,wanted_percent,lots,weighed_grams\n"
    "melt,cocoa butter,38,38,,760.2\nmelt,beeswax,11,11,,220\n"
    'melt,rapeseed oil,50,50,"R-1 600 g, R-2 400 g",1000\n'
    "cool-down,lavender oil,1,1,,20\n",
}


def workspace(folder):
    """Fill a folder with a workspace that answers."""
    shipped = ROOT / "catalogues"
    for path in sorted(shipped.rglob("*.csv")):
        place = folder / "catalogues" / path.relative_to(shipped)
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_text(_cut(path), encoding="utf-8")
    for name in ("scale.toml", "costs.toml"):
        shutil.copyfile(
            shipped / "workshops" / "demo" / name,
            folder / "catalogues" / "workshops" / "demo" / name,
        )
    (folder / "scenarios").mkdir()
    for name, text in {"scenarios/bar.toml": SCENARIO, **MORE}.items():
        (folder / name).write_text(text, encoding="utf-8")
    own(folder)


def _column(path, name):
    """Return the cells of a column of a table."""
    with path.open(encoding="utf-8", newline="") as file:
        return [row[name] for row in csv.DictReader(file)]


def _cut(path):
    """Return a shipped table with the rows about what is kept, or the first ones."""
    with path.open(encoding="utf-8", newline="") as file:
        header, *rows = csv.reader(file)
    if path.name == "sources.csv":
        kept = [[*row[:1], "Invented, as all here", *row[2:]] for row in rows]
    elif header[0] == "ingredient" or path.name == "ingredients.csv":
        kept = [row for row in rows if row[0] in KEPT]
    elif path.name == "substances.csv":
        limited = {
            name
            for each in LIMITS
            for name in _column(path.with_name(each), "limit")[:ROWS]
        }
        kept = [row for row in rows if row[0] in limited]
    elif path.name in {"volumes.csv", "recipe_words.csv"}:
        gone = set(_column(path.with_name("ingredients.csv"), "key")) - set(KEPT)
        kept = [row for row in rows if not gone & set(";".join(row).split(";"))]
        kept = kept[: 6 * ROWS]
    elif path.name in WHOLE:
        kept = rows
    elif path.name == "cautions.csv":
        places = [header.index("constituents"), header.index("ingredients")]
        kept = [row for row in rows if not any(row[x] for x in places)][:ROWS]
    else:
        kept = rows[:ROWS]
    if path.name in {"prices.csv", "properties.csv", "constituents.csv"}:
        seen = {}
        for row in kept:
            seen.setdefault(tuple(row[:3]), row)
        kept = list(seen.values())
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows([header, *kept])
    return text.getvalue()
