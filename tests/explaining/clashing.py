"""Random clashing scenarios over the demo catalogue, and what every way out keeps."""

import math
import random

import pytest
from msgspec.structs import replace

from optimiser.domain.rule import Goal, Row
from optimiser.explaining import Clash, formulate, stepping
from optimiser.explaining.ways import eased
from optimiser.presenting.scenario_text import eased_scenario
from optimiser.reading import read_scenario, shipped_folder
from optimiser.rules import build
from optimiser.solving import Infeasible, optimise, to_the_end

SCENARIOS = shipped_folder("scenarios")
CATEGORIES = {
    "massage_bar": ("hard butter", "soft butter", "wax", "liquid oil"),
    "foot_scrub_bar": ("hard butter", "soft butter", "liquid oil", "exfoliant"),
}
NAMED = {
    "massage_bar": ("cocoa butter", "carnauba wax", "olive oil", "shea stearin"),
    "foot_scrub_bar": ("cocoa butter", "kaolin", "rice grits", "mango butter"),
}


def scenario_text(seed):
    """The text of a scenario of strict wishes; most of them clash."""
    draw = random.Random(seed)
    base = draw.choice(sorted(CATEGORIES))
    lines = [f'extends = "{(SCENARIOS / base).as_posix()}.toml"']
    if draw.random() < 0.4:
        lines += ["[aim]", 'order = ["change", "cost"]']
    lines += _bands(draw, CATEGORIES[base]) + _limits(draw, NAMED[base])
    if draw.random() < 0.3:
        lines += ["[exclude]", f'ingredients = ["{draw.choice(NAMED[base])}"]']
    if draw.random() < 0.3:
        lines += ["[closeness]", f"by_ingredient = {draw.randint(1, 12)}"]
    if draw.random() < 0.2:
        lines += ["[choices]", f'"all" = {{ at_most = {draw.randint(4, 9)} }}']
    if draw.random() < 0.3:
        lines += ["[stock]", "only = true"]
    for at in draw.sample((20, 25, 30, 35, 40), draw.randint(0, 2)):
        side = draw.choice(("min", "max"))
        lines += ["[[windows]]", 'property = "solid fat"', f'at = "{at} degC"']
        lines += ['over = "lipids"', f"{side} = {draw.randint(2, 70)}"]
    if draw.random() < 0.4:
        first, second = draw.sample(NAMED[base], 2)
        lines += ["[[ratios]]", f'name = "so \\"much\\" {first}"']
        lines += [f'first = ["{first}"]', f'second = ["{second}"]']
        lines += [f"{draw.choice(('min', 'max'))} = {draw.randint(1, 40) / 10}"]
    return "\n".join(lines) + "\n"


def _bands(draw, categories):
    lines = ["[bands]"]
    for name in draw.sample(categories, draw.randint(1, 3)):
        low = draw.randint(0, 50)
        of = draw.choice(("", "", ', of = "lipids"'))
        lines.append(f'"{name}" = {{ min = {low}, max = {low + 10}{of} }}')
    return lines


def _limits(draw, names):
    lines = ["[limits]"]
    for name in draw.sample(names, draw.randint(0, 2)):
        side = draw.choice(("min", "max"))
        lines.append(f'"{name}" = {{ {side} = {draw.randint(0, 40) / 2} }}')
    return lines


def step(rule, to):
    """One step a maker would write: half a point from 10 up, else a tenth digit."""
    if rule.kind == "choice":
        return 1.0
    size = abs(rule.limit or to)
    return 0.5 if size >= 10.0 else 10.0 ** (math.floor(math.log10(size)) - 1)


def answers(programme, limits):
    """Whether a formula keeps every rule, some of them at other limits."""
    moved = replace(eased(programme, limits), goals=(Goal("none", "", Row.of(())),))
    return not isinstance(optimise(moved), Infeasible)


def ways_checked(text, folder):
    """Check each way out of a scenario that clashes; return how many there are.

    None where it does not clash.
    """
    path = folder / "clash.toml"
    path.write_text(text, encoding="utf-8")
    scenario, catalogue = read_scenario(path)
    with to_the_end():  # what is told must be what the file of a way comes to
        clash = formulate(scenario, catalogue)
    if not isinstance(clash, Clash):
        return None
    programme = build(scenario, catalogue)
    assert len(clash.ways_out) <= 3
    for way in clash.ways_out:
        rules_are_a_makers_to_move(way)
        every_easing_is_needed_and_no_larger(programme, way)
        its_file_answers_at_the_told_cost(way, path)
    return len(clash.ways_out)


def rules_are_a_makers_to_move(way):
    for each in way.easings:
        rule, to = each.rule, each.to
        assert rule.owner in {"wish", "supplier", "practice", "model"}
        assert rule.moves_with is None
        if rule.side != "exact":
            assert (to > rule.limit) == (rule.side == "max"), rule.id
        if rule.unit in {"%", "points"} and rule.kind != "window":
            assert 0.0 <= to <= 100.0, rule.id


def every_easing_is_needed_and_no_larger(programme, way):
    limits = {each.rule.id: each.to for each in way.easings}
    assert answers(programme, limits)
    for each in way.easings:
        rule, to = each.rule, each.to
        others = {name: limit for name, limit in limits.items() if name != rule.id}
        assert not answers(programme, others), rule.id
        if rule.all_or_nothing:
            assert to == 100.0, rule.id
            continue
        by = 1.001 * step(rule, to)
        if by < abs(to - rule.limit):
            less = to - math.copysign(by, to - rule.limit)
            assert not answers(programme, {**limits, rule.id: less}), (rule.id, to)


def its_file_answers_at_the_told_cost(way, path):
    written = path.with_name("way.toml")
    written.write_text(eased_scenario(path.name, way), encoding="utf-8")
    # Which finer steps would do, where these fit nothing, is told of no way.
    with to_the_end(), pytest.MonkeyPatch.context() as patch:
        patch.setattr(stepping, "FINER", ())
        answer = formulate(*read_scenario(written))
    assert answer.status == "answered"
    assert abs(answer.cost_per_kg - way.cost_per_kg) <= 1e-6 * way.cost_per_kg
    limits = {line.rule.id: line.rule.limit for line in answer.rules}
    for each in way.easings:
        if each.rule.all_or_nothing:  # it is dropped whole
            assert each.rule.id not in limits
        else:
            assert limits[each.rule.id] == each.to
