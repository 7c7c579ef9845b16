"""What fats are made of: fatty acids, triglycerides, melting data, solutes.

Read only when something asks for it: a run without a question about melting does not
pay for it. The maker's own files replace what the shared ones say of an ingredient.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache
from typing import TypeVar

from msgspec.structs import replace

from optimiser.domain.fats import (
    CHAINS,
    INERT,
    OTHER,
    AcidShare,
    FatData,
    Fusion,
    Solute,
    canonical,
)
from optimiser.domain.material import EVIDENCE
from optimiser.domain.properties import GREATEST
from optimiser.errors import InputError, Problem
from optimiser.reading.folders import Folder, Ground
from optimiser.reading.tables import Columns, TableRow

__all__ = ["fat_loader"]

Item = TypeVar("Item")

FORMS = ("alpha", "beta_prime", "beta")
ACIDS = Columns(
    "ingredient,fatty_acid,low,high,variant,evidence,source,note", "variant source note"
)
TRIGLYCERIDES = Columns(
    "ingredient,triglyceride,percent,evidence,source,note", "source note"
)
FUSION = Columns(
    "triglyceride,form,melting_degC,heat_kJ_per_mol,variant,evidence,source,note",
    "variant source note",
)
CORRELATION = Columns(
    "parameter,unit,alpha,beta_prime,beta,evidence,source,note", "source note"
)
SOLUTES = Columns(
    "ingredient,part,percent,molar_mass_g_per_mol,melting_degC,heat_kJ_per_mol,"
    "evidence,source,note",
    "source note",
)
FIX_NAME = "write three of " + ", ".join(CHAINS) + ", as in P-O-S"


# Of the correlation: a width in carbons, which others are divided by, and kelvin.
BETWEEN = {"k": (0.01, 1000.0), "T_inf": (100.0, 1000.0)}
# What the correlation of melting and heat of fusion is written in.
PARAMETERS = (
    "h_0",
    "h",
    "h_xy",
    "k",
    "x_0",
    "T_inf",
    "A_0",
    "A_x",
    "A_x2",
    "A_xy",
    "A_y",
    "A_y2",
    "B_0",
    "B_x",
    "B_x2",
    "B_xy",
    "B_y",
    "B_y2",
    "A_O",
    "A_J",
    "A_OO",
    "A_JJ",
    "A_OJ",
    "B_O",
    "B_J",
    "h_O",
    "h_J",
)


def fat_loader(
    shared: Folder, ground: Ground, own: Folder | None, own_ground: Ground
) -> Callable[[], FatData]:
    """Return a function that reads what fats are made of, once, when it is called.

    It raises InputError with every problem of its files.
    """
    # Absent files say nothing of fats, which is no slip.
    places = [(replace(shared, own=True), ground)]
    if own is not None:
        places.append((own, own_ground))

    @cache
    def load() -> FatData:
        problems = shared.problems
        before = len(problems)
        found = FatData()
        for place, each in places:
            found = _over(found, _read(place, each))
        if len(problems) > before:
            raise InputError(problems[before:])
        return found

    return load


def _over(first: FatData, second: FatData) -> FatData:
    """Return two sets of data as one, the second in place of the first."""
    return FatData(
        acids={**first.acids, **second.acids},
        triglycerides={**first.triglycerides, **second.triglycerides},
        fusion={**first.fusion, **second.fusion},
        correlation={**first.correlation, **second.correlation},
        solutes={**first.solutes, **second.solutes},
        evidence={**first.evidence, **second.evidence},
    )


def _read(folder: Folder, ground: Ground) -> FatData:
    shares, evidence = _triglycerides(folder, ground)
    return FatData(
        acids=_grouped(
            folder, "fatty_acids.csv", ACIDS, lambda row: _acid(row, ground)
        ),
        triglycerides=shares,
        fusion=_fusion(folder, ground),
        correlation=_correlation(folder, ground),
        solutes=_grouped(
            folder, "solutes.csv", SOLUTES, lambda row: _solute(row, ground)
        ),
        evidence=evidence,
    )


def _grouped(
    folder: Folder,
    name: str,
    columns: Columns,
    build: Callable[[TableRow], tuple[str, Item] | None],
) -> dict[str, tuple[Item, ...]]:
    """Return a table's rows by ingredient."""
    table = folder.table(name, columns)
    found: dict[str, list[Item]] = {}
    for key, item in () if table is None else table.each(build):
        found.setdefault(key, []).append(item)
    return {key: tuple(items) for key, items in found.items()}


def _acid(row: TableRow, ground: Ground) -> tuple[str, AcidShare] | None:
    """Return a row of fatty_acids.csv; percent of the fatty acids."""
    ingredient, acid = ground.ingredient(row), row.need("fatty_acid")
    low, high = row.need_number("low", 0, 100), row.need_number("high", 0, 100)
    evidence, source = ground.evidence(row), ground.source(row)
    if low is not None and high is not None and low > high:
        row.say("low", "is more than high", "swap the two")
    if ingredient is None or acid is None or low is None or high is None:
        return None
    variant = row.text("variant")
    return ingredient, AcidShare(acid, low, high, variant, evidence, source, row.origin)


def _triglycerides(
    folder: Folder, ground: Ground
) -> tuple[dict[str, dict[str, float]], dict[str, str]]:
    """Return percent by ingredient and triglyceride, and the weakest evidence."""
    table = folder.table("triglycerides.csv", TRIGLYCERIDES)
    shares: dict[str, dict[str, float]] = {}
    evidence: dict[str, str] = {}
    for row in () if table is None else table.rows:
        ingredient, name = ground.ingredient(row), _name(row)
        percent = row.need_number("percent", 0, 100)
        known = ground.evidence(row)
        ground.source(row)
        if ingredient is None or name is None or percent is None or not known:
            continue
        held = shares.setdefault(ingredient, {})
        held[name] = held.get(name, 0.0) + percent
        if name not in (INERT, OTHER):
            worst = evidence.get(ingredient, known)
            evidence[ingredient] = max(worst, known, key=EVIDENCE.index)
    return shares, evidence


def _name(row: TableRow) -> str | None:
    """Return a triglyceride in its one spelling; None after a problem."""
    text = row.need("triglyceride")
    if text is None or text in (INERT, OTHER):
        return text
    chains = text.split("-")
    if len(chains) != 3 or not set(chains) <= set(CHAINS):
        row.say("triglyceride", "is not a triglyceride that is known here", FIX_NAME)
        return None
    return canonical(text)


def _fusion(folder: Folder, ground: Ground) -> dict[tuple[str, str], Fusion]:
    """Return melting by triglyceride and form; of several rows the first holds.

    What the first leaves open is filled from those after it.
    """
    table = folder.table("triglyceride_fusion.csv", FUSION)
    found: dict[tuple[str, str], Fusion] = {}
    for row in () if table is None else table.rows:
        name, form = _name(row), row.choice("form", FORMS)
        melting = row.number_in("melting_degC", -80, 120)
        heat = row.number_in("heat_kJ_per_mol", 0, 400)
        evidence, source = ground.evidence(row), ground.source(row)
        if name is None or form is None:
            continue
        first = found.get((name, form))
        if first is not None:
            melting = melting if first.melting is None else first.melting
            heat = heat if first.enthalpy is None else first.enthalpy
        found[name, form] = Fusion(melting, heat, evidence, source)
    return found


def _correlation(folder: Folder, ground: Ground) -> Mapping[str, Mapping[str, float]]:
    """Return the parameters of the correlation, by parameter and form."""
    table = folder.table("triglyceride_correlation.csv", CORRELATION)
    found: dict[str, dict[str, float]] = {}
    for row in () if table is None else table.rows:
        name = row.need("parameter")
        least, most = BETWEEN.get(name or "", (-GREATEST, GREATEST))
        numbers = {form: row.need_number(form, least, most) for form in FORMS}
        ground.evidence(row)
        ground.source(row)
        known = {form: n for form, n in numbers.items() if n is not None}
        if name is not None and len(known) == len(FORMS):
            found[name] = known
    missing = [name for name in PARAMETERS if name not in found]
    if table is not None and found and missing:
        folder.problems.append(
            Problem(
                f"lacks the parameters {', '.join(missing)}",
                file=f"{folder.shown}/triglyceride_correlation.csv",
                fix="add a row for each, or remove the file",
            )
        )
    return found


def _solute(row: TableRow, ground: Ground) -> tuple[str, Solute] | None:
    """Return a row of solutes.csv."""
    ingredient, part = ground.ingredient(row), row.need("part")
    percent = row.need_number("percent", 0, 100)
    mass = row.need_number("molar_mass_g_per_mol", 1, GREATEST)
    melting = row.need_number("melting_degC", -200, GREATEST)
    heat = row.need_number("heat_kJ_per_mol", 0, GREATEST)
    evidence, source = ground.evidence(row), ground.source(row)
    if ingredient is None or part is None or percent is None:
        return None
    if mass is None or melting is None or heat is None:
        return None
    return ingredient, Solute(part, percent, mass, melting, heat, evidence, source)
