"""The thread that searches: what fails in it is told, and the next search is made."""

from threading import Thread

import highspy
import pytest

from optimiser.solving import optimise, patience
from optimiser.solving.patience import searched
from tests.solving.test_optimise import small, with_a_choice


def solver(kind=highspy.Highs):
    """Return a solver without anything to find, which prints nothing."""
    made = kind()
    made.silent()
    made.setOptionValue("threads", 1)  # as all are here: the first one sets it
    return made


class Lost(highspy.Highs.__base__):
    """What a solver is made of, which fails once it runs."""

    error = MemoryError()

    def run(self):
        """Fail, as where there is no memory."""
        raise self.error


class LostSolver(highspy.Highs, Lost):
    """A solver that fails once it runs."""


@pytest.mark.filterwarnings("error::pytest.PytestUnhandledThreadExceptionWarning")
@pytest.mark.parametrize("error", [MemoryError(), RuntimeError("lost")], ids=repr)
def test_what_fails_in_a_search_is_raised_where_it_was_asked(monkeypatch, error):
    monkeypatch.setattr(Lost, "error", error)
    with pytest.raises(type(error)):
        searched(solver(LostSolver))
    assert searched(solver())


def no_thread(_):
    raise RuntimeError("can't start new thread")


def test_no_room_for_a_thread_is_told_as_no_memory_and_tried_again(monkeypatch):
    monkeypatch.setattr(patience, "_waiting", [])
    with monkeypatch.context() as patch:
        patch.setattr(patience.Thread, "start", no_thread)
        with pytest.raises(MemoryError):
            searched(solver())
    assert searched(solver())


# HiGHS does not run where a thread of the program has used it with more threads.
def test_a_script_that_has_used_the_solver_before_gets_its_answers_too():
    found = []

    def script():
        own = highspy.Highs.__base__()
        own.setOptionValue("output_flag", False)
        own.setOptionValue("threads", 2)
        own.addCol(1.0, 0.0, 1.0, 0, [], [])
        assert own.run() == highspy.HighsStatus.kOk
        found.extend(optimise(each).best[0] for each in (small(), with_a_choice()))

    thread = Thread(target=script)
    thread.start()
    thread.join()
    assert found == pytest.approx([18.0, 18.0])
