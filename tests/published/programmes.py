"""Published linear programmes, read into the project's own programme values.

Each file of ``cases`` holds data and published answers with their source; figures
under ``computed`` were found by parametric re-solving and agree with the published
ones where those exist. The netlib instances are the problem set of D. M. Gay,
COAL Newsletter 13 (1985), optimal values from its readme.
"""

import json
import math
from pathlib import Path

import highspy
import numpy as np

from optimiser.domain.material import Origin
from optimiser.domain.rule import Column, Goal, Programme, Row, Rule
from optimiser.domain.wording import Fixed

HERE = Path(__file__).resolve().parent


def case(name):
    (path,) = (HERE / "cases").glob(f"{name}_*.json")
    return json.loads(path.read_text(encoding="utf-8"))


def names(**wanted):
    found = []
    for path in sorted((HERE / "cases").glob("*.json")):
        data = json.loads(path.read_text(encoding="utf-8"))
        if data["published"]["status"] == wanted.get("status", "optimal"):
            found.append(data["id"].split("_")[0])
    return found


def rule(name, side, limit, pairs):
    return Rule(
        id=f"{name}:{side}",
        wording=Fixed(f"{name} {side} {limit}"),
        kind="published",
        side=side,
        limit=float(limit),
        unit="",
        amounts=Row.of(pairs),
        per_constant=1.0,
        owner="wish",
        origin=Origin("cases"),
    )


def rules_of(name, lower, upper, pairs):
    if lower is not None and lower == upper:
        return [rule(name, "exact", lower, pairs)]
    sides = []
    if lower is not None:
        sides.append(rule(name, "min", lower, pairs))
    if upper is not None:
        sides.append(rule(name, "max", upper, pairs))
    return sides


def programme_of(data, *, bounds_as_rules=False):
    """A case as a programme; a greatest value becomes the least of its negative."""
    sign = 1.0 if data["sense"] == "min" else -1.0
    index = {v["name"]: i for i, v in enumerate(data["variables"])}
    columns, rules = [], []
    for variable in data["variables"]:
        low, high = variable.get("lower"), variable.get("upper")
        if bounds_as_rules:
            pair = [(index[variable["name"]], 1.0)]
            rules += rules_of(f"bound {variable['name']}", low, high, pair)
            low = high = None
        columns.append(
            Column(
                "amount",
                variable["name"],
                -math.inf if low is None else low,
                math.inf if high is None else high,
                whole=variable.get("integer", False),
            )
        )
    for row in data["rows"]:
        pairs = [(index[name], value) for name, value in row["terms"].items()]
        rules += rules_of(row["name"], row.get("lower"), row.get("upper"), pairs)
    costs = Row.of((index[v["name"]], sign * v["cost"]) for v in data["variables"])
    return Programme(
        ingredients=tuple(index),
        columns=tuple(columns),
        rules=tuple(rules),
        links=(),
        goals=(Goal("cost", "", costs),),
    ), sign


def netlib(name):
    """A netlib instance as a programme, and the constant of its goal."""
    solver = highspy.Highs.__new__(highspy.Highs)
    super(highspy.Highs, solver).__init__()
    solver.setOptionValue("output_flag", False)
    solver.callbacks = []
    solver.readModel(str(HERE / "netlib" / f"{name}.mps.gz"))
    model = solver.getLp()
    columns = tuple(
        Column("amount", f"x{i}", low, high)
        for i, (low, high) in enumerate(
            zip(model.col_lower_, model.col_upper_, strict=True)
        )
    )
    rows = [[] for _ in range(model.num_row_)]
    starts = model.a_matrix_.start_
    for column in range(model.num_col_):
        for entry in range(starts[column], starts[column + 1]):
            rows[model.a_matrix_.index_[entry]].append(
                (column, model.a_matrix_.value_[entry])
            )
    rules = []
    for number, pairs in enumerate(rows):
        low, high = model.row_lower_[number], model.row_upper_[number]
        rules += rules_of(
            f"row {number}",
            None if math.isinf(low) else low,
            None if math.isinf(high) else high,
            pairs,
        )
    costs = Row.of(enumerate(model.col_cost_))
    programme = Programme(
        ingredients=tuple(column.key for column in columns),
        columns=columns,
        rules=tuple(rules),
        links=(),
        goals=(Goal("cost", "", costs),),
    )
    return programme, model.offset_


def as_number(value):
    return {"inf": math.inf, "-inf": -math.inf}.get(value, value)


def amounts_of(programme, optimum):
    return dict(zip(programme.ingredients, np.asarray(optimum.amounts), strict=False))


__all__ = ["amounts_of", "as_number", "case", "names", "netlib", "programme_of"]
