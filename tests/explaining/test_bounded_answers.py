"""No question is searched for without end, and what was not searched is said."""

import pytest
from msgspec.structs import replace

from optimiser import presenting
from optimiser.errors import InputError
from optimiser.explaining import Answer, Clash, answering, clashes, formulate, stepping
from optimiser.explaining.why import why
from optimiser.presenting.why import why_page
from optimiser.reading import read_scenario, shipped_folder
from optimiser.solving import CutShortError, Session, to_the_end, within
from tests.rules import workbench as wb

SCENARIOS = shipped_folder("scenarios")
MANY = 1e9


def shipped(name, **sides):
    """A shipped scenario with other sides of its windows on firmness."""
    scenario, known = read_scenario(SCENARIOS / f"{name}.toml")
    windows = tuple(
        replace(each, **sides) if each.property == "firmness" else each
        for each in scenario.windows
    )
    return replace(scenario, windows=windows), known


def told(page):
    return " ".join(presenting.as_text(page).split())


@pytest.mark.parametrize(
    ("name", "sides"),
    [
        ("massage_bar", {"low": 90.0}),
        ("massage_bar", {"high": 35.0}),
        ("lip_balm", {"low": 102.0}),
    ],
)
def test_a_way_out_that_hardly_fits_in_steps_is_not_searched_for_without_end(
    name, sides
):
    """A window eased to be exact is met in whole steps by luck alone."""
    with within(None, MANY) as patience:
        clash = formulate(*shipped(name, **sides))
    assert isinstance(clash, Clash)
    assert MANY - patience.nodes <= 5_000
    assert len(clash.ways_out) >= 2
    assert all(way.cost_per_kg is not None for way in clash.ways_out)
    open_ = [way for way in clash.ways_out if way.cut]
    assert open_
    assert not any(way.stepped for way in open_)
    said = told(presenting.clash_page(clash))
    assert said.count("without whole steps, for none that fit were found") == len(open_)
    data = presenting.clash_data(clash)
    assert [way["cut_short"] for way in data["ways_out"]] == [
        way.cut for way in clash.ways_out
    ]


def test_an_answer_whose_steps_were_not_all_tried_says_so(monkeypatch):
    monkeypatch.setattr(stepping, "SECONDS", None)
    with within(None, 500):
        answer = formulate(*shipped("massage_bar", low=75.0, high=75.0))
    assert isinstance(answer, Answer)
    assert answer.steps.cut
    assert not answer.steps.kept
    assert answer.steps.finer is None
    said = told(presenting.answer_page(answer))
    assert "was found in the time that is searched for one" in said
    assert "keeps every rule, so it is written without" not in said


def choosing():
    """Three oils of which two at most may be used: a question with choices."""
    known = wb.catalogue(
        {"a": "liquid oil", "b": "liquid oil", "c": "liquid oil"},
        prices={"a": 3.0, "b": 2.0, "c": 1.0},
    )
    asked = wb.scenario(
        limits=(wb.bound("c", high=40.0, table="limits"),),
        choices=(wb.choice("all", at_most=2),),
    )
    return asked, known


def out_of_time(_session):
    raise CutShortError("the search was ended before it had found a formula")


def test_what_was_not_found_in_time_is_not_said_to_be_impossible(monkeypatch):
    monkeypatch.setattr(Session, "run", out_of_time)
    with pytest.raises(InputError) as caught:
        formulate(*choosing())
    (problem,) = caught.value.problems
    assert "nor was it shown that there is none" in problem.wrong
    assert "--thorough" in str(problem.fix)


def test_a_clash_that_was_not_looked_through_says_so(monkeypatch):
    asked, known = choosing()
    asked = replace(asked, bands=(wb.bound("wax", 10.0),))
    may_fit, calls = clashes._may_fit, []

    def tired(session):
        calls.append(session)
        with within(0.0, 0.0) as patience:
            patience.used(0, cut=len(calls) == 2)
        return may_fit(session) or len(calls) == 2

    monkeypatch.setattr(clashes, "_may_fit", tired)
    clash = formulate(asked, known)
    assert clash.cut
    assert "fewer rules may be enough to clash" in told(presenting.clash_page(clash))


def test_prices_that_were_not_all_looked_at_are_told_as_far_as_they_go(monkeypatch):
    asked, known = choosing()
    whole = why(asked, known)
    assert not whole.cut
    assert len(whole.entering) == len(whole.staying) - 1 == 1
    run, calls = Session.run, []

    def once(session):
        calls.append(session)
        if session.programme.whole and not session._kept and len(calls) > 1:
            with within(None) as patience:
                patience.used(0, cut=True)
            raise CutShortError("the search was ended before it had found a formula")
        return run(session)

    monkeypatch.setattr(Session, "run", once)
    found = why(asked, known)
    assert found.cut
    assert (found.entering, found.staying) == ((), ())
    assert "Not all ingredients were looked at" in told(why_page(found))


def test_a_price_whose_search_was_ended_early_is_not_told(monkeypatch):
    """The solver has a formula by then, and not the best one."""
    run, calls = Session.run, []

    def early(session):
        calls.append(session)
        if session.programme.whole and not session._kept and len(calls) > 1:
            with within(None) as patience:
                patience.used(0, cut=True)
        return run(session)

    monkeypatch.setattr(Session, "run", early)
    found = why(*choosing())
    assert found.cut
    assert found.entering == ()


def test_to_the_end_is_to_the_end():
    with to_the_end(), within(0.001, 1.0) as patience:
        assert patience.nodes == patience.end == float("inf")


def test_one_of_several_questions_that_was_not_answered_leaves_the_gap_open(
    monkeypatch,
):
    asked, known = choosing()
    (question,) = answering.questions(asked, known)
    solve, calls = answering.optimise, []

    def optimise(*about):
        calls.append(about)
        if len(calls) == 2:
            out_of_time(None)
        return solve(*about)

    monkeypatch.setattr(answering, "optimise", optimise)
    found = answering.best([question, question], known)
    assert found.optimum.gap == answering.UNKNOWN_GAP
