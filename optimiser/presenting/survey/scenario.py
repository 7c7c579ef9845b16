"""The scenario that a survey proposes, with the evidence for every number beside it."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from optimiser.domain.material import MINOR
from optimiser.presenting.amounts import FINE, as_text, percents, places
from optimiser.presenting.survey.words import (
    base_words,
    chosen,
    fault_words,
    influence_words,
    meant_words,
    names,
    nearest_words,
    share,
    stand_in_words,
    summary_words,
    title,
    window_words,
)
from optimiser.presenting.words import clean, plural, short
from optimiser.studies.survey.summaries import members, rounded

if TYPE_CHECKING:
    from optimiser.domain.catalogue import Catalogue
    from optimiser.studies.survey.values import (
        Band,
        Base,
        HeldWindow,
        Structure,
        Survey,
    )

__all__ = ["survey_scenario"]


def survey_scenario(survey: Survey, catalogue: Catalogue) -> str:
    """Return a scenario as TOML that ``optimiser formulate`` takes at once.

    Raises
    ------
    ValueError
        If the survey has no base.
    """
    structure, base = chosen(survey), survey.base
    if structure is None or base is None or not base.lines:
        raise ValueError("a survey without a base makes no scenario")
    lines = [
        *_head(survey, structure),
        *_keys(survey, structure),
        *_base(base, catalogue),
        *_only(base, catalogue),
        "[bands]",
        *[line for band in base.bands for line in _band(band)],
        "",
        *_tops(structure, base, catalogue),
        *_guards(base),
        *_climate(survey),
        *[line for each in base.windows for line in _window(each, structure)],
        *_faults(survey, structure),
    ]
    return "\n".join(lines).rstrip() + "\n"


def _comment(text: str, lead: str = "# ") -> list[str]:
    """Return text as comment lines, without what could end a comment."""
    return textwrap.wrap(
        clean(text),
        88,
        initial_indent=lead,
        subsequent_indent="#   ",
        break_on_hyphens=False,
    )


def _text(text: str) -> str:
    """Return a text in TOML's quotes."""
    plain = clean(text).replace("\\", "\\\\").replace('"', '\\"')
    return f'"{plain}"'


def _head(survey: Survey, structure: Structure) -> list[str]:
    count = plural(len(structure.recipes), "recipe")
    lines = _comment(
        f"{title(survey)}: bands and a base from {count} ({names(structure.recipes)}), "
        f"read from {names(survey.files, 4)} by optimiser survey."
    )
    if len(survey.structures) > 1:
        others = [s.name for s in survey.structures if s.name != survey.chosen]
        lines += _comment(f"Built otherwise, not in these bands: {'; '.join(others)}.")
    lines += _comment(
        "Percent of the finished product. Above each band stands what it rests on; "
        "change what you know better. Make 100 g and test."
    )
    return lines


def _keys(survey: Survey, structure: Structure) -> list[str]:
    count = plural(len(structure.recipes), "recipe")
    lines = [f"title    = {_text(f'{title(survey)} (from {count})')}"]
    lines.append(f"product  = {_text(survey.product_class or 'recipes')}")
    if survey.workshop is not None:
        lines.append(f"workshop = {_text(survey.workshop)}")
    note = "   # usual for this class; change it if yours is not" * survey.use_assumed
    lines.append(f'use      = "{survey.use}"{note}')
    markets = ", ".join(_text(each) for each in survey.markets)
    note = "" if survey.markets else "   # no law is checked until a market is named"
    lines.append(f"market   = [{markets}]{note}")
    aims = '"change", "cost"' if survey.priced else '"change"'
    lines += ["", "[batch]", 'size = "1 kg"', "", "[aim]"]
    if not survey.priced:
        lines += _comment("Cost can be an aim once a workshop has a price for all.")
    return [*lines, f"order = [{aims}]", ""]


def _base(base: Base, catalogue: Catalogue) -> list[str]:
    lines = ["[base]"]
    lines += _comment(f"{meant_words(base)}.")
    near = nearest_words(base, catalogue)
    lines += _comment(f"{near}.") if near else []
    lines += [row for each in base_words(base, catalogue) for row in _comment(each)]
    each = [catalogue.ingredients[x.ingredient] for x in base.lines]
    shares, kinds = [x.percent for x in base.lines], [e.category for e in each]
    fine = places([shares], kinds)
    rounded = percents(shares, kinds, fine)
    width = max(len(_text(e.name)) for e in each)
    for line, e, amount in zip(base.lines, each, rounded, strict=True):
        if amount == 0:
            continue
        told = stand_in_words(line)
        note = f"   # {told}" if told else ""
        shown = as_text(amount, e.category in FINE, places=fine)
        lines.append(f"{_text(e.name):<{width}} = {shown}{note}")
    return [*lines, ""]


def _only(base: Base, catalogue: Catalogue) -> list[str]:
    lines = ["[only]"]
    lines += _comment(
        "What these recipes name, alone or in a choice; take the list out to choose "
        "from the whole catalogue."
    )
    lines.append("ingredients = [")
    row = "   "
    for each in sorted(_text(catalogue.ingredients[key].name) for key in base.seen):
        if len(row) + len(each) > 86:
            lines.append(row)
            row = "   "
        row += f" {each},"
    return [*lines, row, "]", ""]


def _band(band: Band) -> list[str]:
    lines = _comment(f"{band.category}: {summary_words(band.summary)}.")
    for each in band.influences:
        words = influence_words(each)
        lines += _comment(f"{words[:1].upper()}{words[1:]}.", "#   ")
    if band.remark:
        lines += _comment(f"{band.remark[:1].upper()}{band.remark[1:]}.", "#   ")
    low = "" if band.low is None else f"min = {short(band.low)}, "
    count = plural(len(band.summary.users), "recipe")
    why = _text(f"{count}, median {share(band.summary.median)} %")
    key = _text(band.category)
    return [*lines, f"{key} = {{ {low}max = {short(band.high)}, why = {why} }}"]


def _tops(structure: Structure, base: Base, catalogue: Catalogue) -> list[str]:
    """Return the most of each ingredient in any recipe, where bands allow more."""
    held = {each.ingredient: each.percent for each in base.lines}
    rows: list[str] = []
    for key in base.seen:
        most = structure.tops.get(key)
        each = catalogue.ingredients[key]
        if most is None or each.category in MINOR:
            continue
        most = max(most, rounded(held.get(key, 0.0), up=True))
        about = [b for b in base.bands if each.category in members(b.category)]
        least = structure.least.get(key)
        low = "" if least is None else f"min = {short(least)}, "
        if low or most < min((band.high for band in about), default=100.0):
            rows.append(f"{_text(each.name)} = {{ {low}max = {short(most)} }}")
    if not rows:
        return []
    told = _comment("No recipe that counts holds more of each than this.")
    return ["[limits]", *told, *sorted(rows), ""]


def _window(held: HeldWindow, structure: Structure) -> list[str]:
    ends = (("min", held.low), ("max", held.high))
    sides = [f"{side}      = {short(end)}" for side, end in ends if end is not None]
    at = "storage" if held.storage else f"{short(held.at)} degC"
    told = window_words(held, len(structure.recipes))
    return [
        *_comment(f"{told[:1].upper()}{told[1:]}."),
        "[[windows]]",
        f"name     = {_text(held.name)}",
        f"property = {_text(held.property)}",
        f"at       = {_text(at)}",
        'over     = "lipids"',
        *sides,
        "",
    ]


def _guards(base: Base) -> list[str]:
    """Return the guards of the model that give way to what the recipes hold."""
    if not base.guards:
        return []
    told = _comment("Eased to what these recipes hold; the model is not sure there.")
    rows = [f"{each} = {{ max = {short(most)} }}" for each, most in base.guards.items()]
    return ["[guard]", *told, *rows, ""]


def _climate(survey: Survey) -> list[str]:
    if survey.zone is None:
        return []
    return ["[climate]", f"zone = {_text(survey.zone)}", ""]


def _faults(survey: Survey, structure: Structure) -> list[str]:
    behind = set(structure.recipes)
    mine = [each for each in survey.faults if each.recipe in behind]
    out = [
        (each.name, fault_words(each.fault)) for each in survey.recipes if each.fault
    ]
    lines = _comment("Not in these bands, for their faults:") if out else []
    for name, text in out:
        lines += _comment(f"{name}: {text}", "#   ")
    if not mine:
        return lines
    lines += _comment("Faults seen in the recipes behind these bands:")
    for each in mine:
        lines += _comment(f"{each.recipe}: {fault_words(each)}", "#   ")
    return lines
