"""Answers that are only looked at come to the same as those that are proved."""

import msgspec
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from optimiser.domain.rule import Goal, Row
from optimiser.solving import attempted
from optimiser.solving.arrays import Arrays
from optimiser.solving.unproved import WithMore
from tests.solving.random_programmes import blends, rule


@given(blends(whole=True), st.integers(0, 3))
def test_rows_put_beside_others_stand_where_they_were_built_in(programme, taken):
    kept, more = programme.rules[:-taken], programme.rules[-taken:]
    if not taken:
        kept, more = programme.rules, ()
    fewer = replace(programme, rules=kept)
    put = Arrays.of(fewer).beside(len(kept), more)
    for one, other in zip(
        msgspec.structs.astuple(put),
        msgspec.structs.astuple(Arrays.of(programme)),
        strict=True,
    ):
        assert one.dtype == other.dtype
        assert one.tolist() == other.tolist()


@given(blends(), st.integers(0, 6))
def test_what_is_tried_comes_to_what_is_proved(programme, least):
    first = Goal("first", "%", Row.of([(0, 1.0)]), slack=1.0)
    programme = replace(programme, goals=(first, *programme.goals))
    floor = rule("floor", "min", least, [(1, 1.0)], per_constant=1.0)
    more, found = WithMore(programme).beside((floor,))
    proved = attempted(more)
    assert [each.id for each in more.rules][-1] == "floor"
    assert (found is None) == (proved is None)
    if found is not None:
        assert found.best == pytest.approx(proved.best, abs=1e-6)
        assert np.all(found.amounts >= 0.0)


@given(blends(), blends())
def test_one_question_leaves_nothing_behind_for_the_next(programme, other):
    asked = WithMore(programme)
    for each, found in (
        (other, asked.instead(other)),
        (programme, asked.beside(())[1]),
        (other, asked.instead(other)),
    ):
        proved = attempted(each)
        assert (found is None) == (proved is None)
        if found is not None:
            assert found.best == pytest.approx(proved.best, abs=1e-6)


@given(blends(most=6, whole=True))
def test_a_question_with_choices_is_searched_as_any(programme):
    found, proved = WithMore(programme).instead(programme), attempted(programme)
    assert (found is None) == (proved is None)
    if found is not None:
        assert found.best == proved.best
