"""The thread that searches: what fails in it is told, and the next search is made."""

import highspy
import pytest

from optimiser.solving import patience
from optimiser.solving.patience import searched


def solver():
    """Return a solver without anything to find, which prints nothing."""
    made = highspy.Highs()
    made.silent()
    return made


def failing(error):
    def run(_):
        raise error

    return run


@pytest.mark.filterwarnings("error::pytest.PytestUnhandledThreadExceptionWarning")
@pytest.mark.parametrize("error", [MemoryError(), RuntimeError("lost")], ids=repr)
def test_what_fails_in_a_search_is_raised_where_it_was_asked(monkeypatch, error):
    with monkeypatch.context() as patch:
        patch.setattr(highspy.Highs.__mro__[1], "run", failing(error))
        with pytest.raises(type(error)):
            searched(solver())
    assert searched(solver())


def test_no_room_for_a_thread_is_told_as_no_memory_and_tried_again(monkeypatch):
    monkeypatch.setattr(patience, "_waiting", [])
    with monkeypatch.context() as patch:
        patch.setattr(patience.Thread, "start", failing(RuntimeError("no new thread")))
        with pytest.raises(MemoryError):
            searched(solver())
    assert searched(solver())
