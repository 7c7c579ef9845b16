"""Random questions, asked as a maker asks, answered as an independent model answers.

A seed makes a specification, the specification files; what `formulate` says to the
files is held against a model built straight from the specification and solved by
SciPy, for small questions also in fractions, and what the pages say is tried by
moving what they speak of and solving again. A few are tried here; many more with
``RANDOM_SCENARIOS=2000`` (how many), and ``RANDOM_SEED=10000`` (the first) where
others are wanted.

Windows on solid fat and firmness are asked with the second opinion turned off, but
for some questions of their own, whose fats are made of triglycerides: there it is
worked out a second time too. Emulsifier totals and envelopes are not in it. Questions
are of the language that is written now; what older ones have found is asked as it was
then (``newer=False``).
"""

import os
import re
from collections import Counter
from functools import cache

import numpy as np
import pytest
from msgspec.structs import replace

from optimiser.presenting.answer import answer_page
from optimiser.presenting.page import Item
from optimiser.presenting.why import why_page
from optimiser.reading import read_scenario
from optimiser.science import correction as asking
from tests.random_scenarios.comparing import (
    answered,
    disagreements,
    inexact,
    smallest,
)
from tests.random_scenarios.files import scenario_text, write
from tests.random_scenarios.independent import Model, UnaskedError
from tests.random_scenarios.melting import Melting
from tests.random_scenarios.saying import misleading, misread, told_of
from tests.random_scenarios.specification import (
    melting,
    replaced,
    small,
    stepped,
)

FIRST = int(os.environ.get("RANDOM_SEED", "0"))
MANY = os.environ.get("RANDOM_SCENARIOS")
SEEDS = range(FIRST, FIRST + int(MANY or "28"))
FEW = range(FIRST, FIRST + int(MANY or "12"))


def complain(seed, found, asked):
    if found:
        said = "\n".join(f"{each.kind}: {each.said}" for each in found)
        pytest.fail(f"seed {seed}\n{said}\n{_told(asked)}")


# What random questions have found, each once. In 200616 a rule on traces was broken by
# what is none; in 200543 a trace that rounding bought was counted as an ingredient; in
# 201131 a window bends near its limit; in 201429 a way out was short of its digits;
# next to ties (200117, 200386) an aim gains by the room that an earlier one is left; in
# 209509 a formula in steps is exchanged for a nearer one that changes as much; in 5099
# a way out leaves room for more of a scent that the base has more of. In 208144 choices
# make that gain larger; in 205324 and 211620 a low price ends in a slight bend; in
# 203376 three lots are all of the batch; in 400219 that gain brought something in; in
# 30106 rounding alone was told as room.
KNOWN = (
    200616, 200543, 201131, 201429, 200117, 200386, 209509, 5099,
    208144, 205324, 211620, 203376, 400219, 30106,
)  # fmt: skip


# And of today's language. In 700057 the base itself broke the rule on its wax, whose
# limit was rounded; in 701114 a preservative whose least was dropped had no dose; in
# 1000040 none of a scent was counted as one, for the base has less than the usual dose;
# in 1003184 a bend was next to a limit; in 1003294 something had a share of nothing; in
# 1020000 what is unknown was in a part that names others; in 1020066 a base that adds
# up to 100 was scaled to it; in 1069095 a price was told to where a bend brought it
# back.
KNOWN_NEWER = (
    700057, 701114, 1000040, 1003184, 1003294, 1020000, 1020066, 1069095,
)  # fmt: skip


@pytest.mark.parametrize("seed", [*SEEDS, *KNOWN_NEWER])
def test_a_random_question_is_answered_as_an_independent_model_answers_it(seed):
    agree(stepped(seed))


@pytest.mark.parametrize("seed", KNOWN)
def test_what_random_questions_have_found_once_is_found_no_more(seed):
    agree(stepped(seed, newer=False))


def agree(asked):
    seed = asked.seed
    found = disagreements(asked)
    if found:
        asked = smallest(asked, found[0].kind)
    complain(seed, found, asked)


@pytest.mark.parametrize("seed", FEW)
def test_a_small_question_is_answered_as_in_exact_arithmetic(seed):
    asked = small(seed)
    complain(seed, inexact(asked), asked)


# In 700008 the second opinion was told of the formula before it was put into steps, in
# 2040125 one that broke a window, which too little had been known to tell of before; in
# 2046559 a way out, once written, no longer dropped what the scenario drops.
@pytest.mark.parametrize("seed", [*FEW, 700008, 2040125, 2046559])
def test_a_random_window_holds_by_the_second_opinion_as_it_is_told(seed):
    asked = melting(seed)
    complain(seed, disagreements(asked), asked)


# In 52 and 498 a limit of six figures moves by less than four figures show; in 218 the
# first aim has choices of its own; in 10373 a bend is next to a limit; in 201319 the
# most different tie has more of what is in.
@pytest.mark.parametrize("seed", [52, 498, 218, 10373, 201319])
def test_what_pages_once_said_and_was_not_so_they_say_no_more(seed):
    asked = stepped(seed, newer=False)
    complain(seed, misleading(asked), asked)


# In 3086122 an earlier aim gives way a hair beyond a limit.
@pytest.mark.parametrize("seed", [*FEW, 3086122])
def test_what_the_pages_say_of_an_answer_is_so(seed):
    told = told_by(seed)
    complain(seed, [] if told is None else misread(*told), stepped(seed))


# In 30066 the straight rules were drawn at another formula that does as well, in 30094
# little fat sets at once from little of it.
@pytest.mark.parametrize("seed", [30066, 30094])
def test_straight_rules_are_those_of_the_second_opinion(seed):
    asked = melting(seed, newer=False)
    complain(seed, disagreements(asked), asked)


# Each of these told another formula once: of 500026 to 500112 without steps.
@pytest.mark.parametrize(
    "seed",
    [500026, 500035, 500053, 500112, 500020, 500025, 500099, 500117, 500144, 500146],
)
def test_where_a_row_stands_in_the_catalogue_moves_no_formula(seed):
    asked = stepped(seed)
    turned = replaced(asked, materials=asked.materials[::-1])
    assert shown(turned) == pytest.approx(shown(asked), abs=1e-6)


# Nor one more row, of what is much too dear and like nothing else, where nothing is
# chosen: a search that comes upon another choice is not asked again.
@pytest.mark.parametrize("seed", [500053, 500112, 500144])
def test_a_row_that_nobody_asks_for_moves_no_formula(seed):
    asked = stepped(seed)
    one = asked.materials[0]
    more = replaced(
        one,
        key=f"zz_{one.category.replace(' ', '_')}",
        packs=((1.0, 500.0, 0.0),),
        contents={},
        lots=(),
        caps=(),
        doses=(),
        opinions=(),
        habits=(),
    )
    wider = replaced(asked, materials=(*asked.materials, more))
    assert shown(wider) == pytest.approx(shown(asked), abs=1e-6)


def shown(asked):
    return {line.ingredient: line.percent for line in answered(asked).formula}


def test_a_formula_in_steps_that_another_solver_finds_is_found():
    asked = stepped(210963, newer=False)
    best, rest = Model(asked).best_in_steps(asked)
    told = answered(asked)
    assert (told.steps.kept, told.steps.cut, rest) == (True, False, True)
    assert [value for _, value, _ in told.aims] == pytest.approx(best, rel=1e-6)


# Where an aim leaves room, what is chosen for it alone ends before what is shown.
def test_what_the_pages_say_of_an_answer_with_choices_of_two_aims_is_so():
    asked = melting(310638, newer=False)
    complain(310638, misleading(asked), asked)


# A fat without a figure where it is cooler would leave the temperature's own alone.
def test_a_little_fat_in_what_is_all_liquid_counts_as_at_its_own_temperature(tmp_path):
    asked = melting(300195, newer=False)
    _, catalogue = read_scenario(write(asked, tmp_path))
    keys = [each.key for each in asked.materials]
    liquid = [1.0 if each.category == "emulsifier" else 0.0 for each in asked.materials]
    model = asking.Melting(keys, catalogue)
    found = model.see(np.array(liquid), np.ones(len(keys)), "solid fat", [30.0])[30.0]
    mine = Melting(asked)
    bare = [each.key for each in asked.materials if each.made]
    assert len(bare) >= 2
    for key in bare:
        alone = 100.0 * mine.alone(key, 30.0)
        assert found.rows[0][keys.index(key)] == pytest.approx(-alone, abs=1e-6)


def _told(asked):
    rows = (*asked.materials, *asked.law, *asked.shared)
    return "\n".join([*map(repr, rows), scenario_text(asked)])


# A test of the tests: without variety, agreeing would say little.
def test_the_random_questions_are_of_many_kinds():
    asked = [stepped(seed) for seed in range(150)]
    models = [Model(each) for each in asked]
    assert 12 <= sum(not each.fits() for each in models) <= 60
    kinds = Counter(
        kind for each in models for kind in {name.split("/")[0] for name in each.rules}
    )
    assert kinds.keys() == {
        "total", "band", "limit", "pin", "least", "supplier", "practice", "law",
        "habit", "share", "constituent", "window", "ratio", "exclude", "choice",
        "stock", "closeness", "minor", "near", "guard",
    }  # fmt: skip
    assert min(kinds.values()) >= 5
    rules = [" ".join(each.rules) for each in models]
    for part in (
        "/least", "guard/wax counted as", "guard/wax of unknown strength",
        "guard/waxes together", "minor/other unknown", "by kind", " without ",
    ):  # fmt: skip
        assert sum(part in each for each in rules) >= 2, part
    for name in ("let_in", "gone", "eased", "only", "pins", "choices", "least"):
        assert sum(bool(getattr(each, name)) for each in asked) >= 8, name
    assert len({each.aims[0][0] for each in asked}) >= 5
    roomy = [sum(room > 0.0 for _, room in each.aims) for each in asked]
    assert sum(map(bool, roomy)) >= 30
    assert sum(each > 1 for each in roomy) >= 10
    assert 40 <= sum(bool(each.steps) for each in asked) <= 80


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
        lambda asked: {"steps": tuple((w, 0.5 * each) for w, each in asked.steps)},
    ],
    ids=[
        "prices", "figures", "use", "bands", "windows", "order", "allergens", "batch",
        "steps",
    ],
)  # fmt: skip
def test_a_question_put_otherwise_is_seen_to_be_another(fault, monkeypatch):
    honest = answered
    monkeypatch.setattr(
        "tests.random_scenarios.comparing.answered",
        lambda asked: honest(replaced(asked, **fault(asked))),
    )
    assert any(disagreements(stepped(seed), tried=0) for seed in range(60))


# Sentences made false one way at a time, which must all be seen.
@pytest.mark.parametrize(
    ("said", "instead"),
    [
        (r"leaves above (\d+)", lambda found: f"leaves above {int(found[1]) + 1}"),
        (r"leaves above [^;]*", lambda _: "no price drives it out"),
        (r"comes in below (\d+)", lambda found: f"comes in below {int(found[1]) + 1}"),
        (r"comes in below [^;]*", lambda _: "no price brings it in"),
        (r"adds [^;]*", lambda _: "costs nothing"),
        (r"(saves|costs) (\d+)\.", lambda found: f"{found[1]} {int(found[2]) + 1}."),
        (r"moving them a little changes nothing",
         lambda _: "they cannot be eased or tightened: nothing would fit"),
        (r"cannot be tightened: nothing would fit",
         lambda _: "tightening it a little changes nothing"),
        (r", (up|down) to (\d+)", lambda found: f", {found[1]} to {int(found[2]) * 9}"),
        (r"no formula beyond", lambda _: "nothing more changes"),
        (r"nothing more changes", lambda _: "no formula beyond"),
        (r": (\d+)\.(\d\d EUR/kg \()", lambda f: f": {int(f[1]) + 1}.{f[2]}"),
    ],
)  # fmt: skip
def test_a_sentence_that_is_not_so_is_seen(said, instead, monkeypatch):
    def falsely(page):
        sections = tuple(
            replace(
                each,
                blocks=tuple(
                    replace(
                        block,
                        text=re.sub(said, instead, block.text),
                        under=tuple(re.sub(said, instead, x) for x in block.under),
                    )
                    if isinstance(block, Item)
                    else block
                    for block in each.blocks
                ),
            )
            for each in page.sections
        )
        return replace(page, sections=sections)

    for name, page in (("answer_page", answer_page), ("why_page", why_page)):
        monkeypatch.setattr(
            f"tests.random_scenarios.saying.{name}",
            lambda told, page=page, **more: falsely(page(told, **more)),
        )
    found = (told_by(seed) for seed in range(40))
    # What has no such sentence is as it was, and would be looked through in vain.
    having = (told for told in found if told is not None and says(told, said))
    assert any(misread(*told) for told in having)


def says(told, sentence):
    """Whether a sentence is anywhere in the lists of the pages of an answer."""
    _, answer, reasons = told
    pages = answer_page(answer, full=True), why_page(reasons, full=True)
    return any(
        re.search(sentence, text)
        for page in pages
        for section in page.sections
        for block in section.blocks
        if isinstance(block, Item)
        for text in (block.text, *block.under)
    )


@cache
def told_by(seed):
    """What is told of a random question, the pages apart."""
    return told_of(stepped(seed))


# A fault in exact arithmetic would be seen by the other solver, and the other way.
def test_both_ways_of_solving_a_small_question_find_the_same():
    from tests.random_scenarios.exact import Exact  # noqa: PLC0415 - for this alone

    found = 0
    for seed in range(40, 60):
        try:
            model = Model(small(seed))
        except UnaskedError:
            continue
        mine, exact = model.best(), Exact(model).best()
        assert (mine is None) == (exact is None)
        if exact is not None:
            found += 1
            assert [float(each) for each in exact] == pytest.approx(mine[0], abs=3e-6)
    assert found >= 5


def _dearer(material):
    packs = tuple((kg, price, sent + 0.01 * kg) for kg, price, sent in material.packs)
    return replaced(material, packs=packs)


def _eased(sides):
    """The same with one of its limits a little easier."""
    if sides.high is not None and sides.high < 99.0:
        return replaced(sides, high=sides.high + 0.01)
    low = sides.low
    return replaced(sides, low=None if low is None else max(0.0, low - 0.01))
