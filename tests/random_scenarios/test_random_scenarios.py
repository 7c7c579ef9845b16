"""Random questions, asked as a maker asks, answered as an independent model answers.

A seed makes a specification, the specification files; what `formulate` says to the
files is held against a model built straight from the specification and solved by
SciPy. A few are tried here; many more with ``RANDOM_SCENARIOS=2000`` (how many), and
``RANDOM_SEED=10000`` (the first) where others are wanted.

Emulsifier totals, envelopes and the second opinion are not in it: windows on solid
fat and firmness are asked with the second opinion turned off.
"""

import os
from collections import Counter

import pytest

from tests.random_scenarios.comparing import answered, disagreements, smallest
from tests.random_scenarios.files import scenario_text
from tests.random_scenarios.independent import Model
from tests.random_scenarios.specification import replaced, specification

FIRST = int(os.environ.get("RANDOM_SEED", "0"))
SEEDS = range(FIRST, FIRST + int(os.environ.get("RANDOM_SCENARIOS", "60")))


@pytest.mark.parametrize("seed", SEEDS)
def test_a_random_question_is_answered_as_an_independent_model_answers_it(seed):
    asked = specification(seed)
    found = disagreements(asked)
    if found:
        said = "\n".join(f"{each.kind}: {each.said}" for each in found)
        small = smallest(asked, found[0].kind)
        pytest.fail(f"seed {seed}\n{said}\nThe smallest such case:\n{_told(small)}")


def _told(asked):
    rows = (*asked.materials, *asked.law, *asked.shared)
    return "\n".join([*map(repr, rows), scenario_text(asked)])


# A test of the tests: without variety, agreeing would say little.
def test_the_random_questions_are_of_many_kinds():
    asked = [specification(seed) for seed in range(60)]
    models = [Model(each) for each in asked]
    assert 8 <= sum(not each.fits() for each in models) <= 30
    kinds = Counter(
        kind for each in models for kind in {name.split("/")[0] for name in each.rules}
    )
    assert kinds.keys() == {
        "total", "band", "limit", "pin", "least", "supplier", "practice", "law",
        "habit", "share", "constituent", "window", "ratio", "exclude", "choice",
        "stock", "closeness", "minor",
    }  # fmt: skip
    assert min(kinds.values()) >= 3
    assert len({each.aims[0][0] for each in asked}) == 5
    assert sum(room > 0.0 for each in asked for _, room in each.aims) >= 5


# Faults put into the question that the program is asked, which must all be seen.
@pytest.mark.parametrize(
    "fault",
    [
        lambda asked: {"materials": tuple(map(_dearer, asked.materials))},
        lambda asked: {"cautious": not asked.cautious},
        lambda asked: {"use": "leave-on" if asked.use == "rinse-off" else "rinse-off"},
        lambda asked: {"bands": tuple(map(_eased, asked.bands))},
        lambda asked: {"windows": tuple(map(_eased, asked.windows))},
        lambda asked: {"aims": tuple(reversed(asked.aims))},
        lambda _: {"without_allergens": ()},
        lambda _: {"batch_kg": 3.0},
    ],
    ids=["prices", "figures", "use", "bands", "windows", "order", "allergens", "batch"],
)
def test_a_question_put_otherwise_is_seen_to_be_another(fault, monkeypatch):
    honest = answered
    monkeypatch.setattr(
        "tests.random_scenarios.comparing.answered",
        lambda asked: honest(replaced(asked, **fault(asked))),
    )
    assert any(disagreements(specification(seed), tried=0) for seed in range(60))


def _dearer(material):
    packs = tuple((kg, price, sent + 0.01 * kg) for kg, price, sent in material.packs)
    return replaced(material, packs=packs)


def _eased(sides):
    """The same with one of its limits a little easier."""
    if sides.high is not None and sides.high < 99.0:
        return replaced(sides, high=sides.high + 0.01)
    low = sides.low
    return replaced(sides, low=None if low is None else max(0.0, low - 0.01))
