"""Arrays into HiGHS: a silent solver that holds a programme, ready to be run."""

from __future__ import annotations

from threading import local

import highspy
import numpy as np

from optimiser.domain.arrays import Floats
from optimiser.errors import ProofError
from optimiser.solving.arrays import Arrays

__all__ = ["loaded", "silent"]

# Whole numbers are kept exactly once they are found (see `optimise`). Nearer than 1e-8
# the search takes rounding for more, and has called what is not the best the best.
TIGHT = {
    "primal_feasibility_tolerance": 1e-9,
    "dual_feasibility_tolerance": 1e-9,
    "mip_feasibility_tolerance": 1e-8,
    "mip_rel_gap": 1e-9,
    "mip_abs_gap": 1e-9,
}


def loaded(
    arrays: Arrays,
    costs: Floats,
    near: Floats | None = None,
    solver: highspy.Highs | None = None,
) -> highspy.Highs:
    """Return a solver that holds a programme and minimises what its columns cost.

    Parameters
    ----------
    costs : float array, one a column
    near : float array, optional
        Amounts that keep every row: a search begins from them.
    solver : highspy.Highs, optional
        One that takes the place of a new one, and forgets what it held.

    Raises
    ------
    ProofError
        If the solver does not take the programme: a row is not what it should be.
    """
    solver = solver or silent()
    if arrays.whole.any():
        # What it simplifies before a search has come to choices that hold only nearly,
        # and has lost the best; few searches gain by it (see `Session.simplify`).
        solver.setOptionValue("presolve", "off")
    if solver.passModel(_model(arrays, costs)) == highspy.HighsStatus.kError:
        raise ProofError("the solver did not take the question")
    if near is not None:
        start = highspy.HighsSolution()
        start.col_value = near.tolist()
        solver.setSolution(start)
    return solver


def silent() -> highspy.Highs:
    """Return a HiGHS object that prints nothing.

    ``highspy.Highs.__init__`` logs to file descriptor 1 before anything can turn it
    off, so only its C++ part is made here (see decision 2).
    """
    solver = _bare()
    threads = _threads()
    solver.setOptionValue("threads", threads)
    if threads != 1:
        solver.setOptionValue("parallel", "off")
    for key, value in TIGHT.items():
        solver.setOptionValue(key, value)
    return solver


def _bare() -> highspy.Highs:
    solver = highspy.Highs.__new__(highspy.Highs)
    super(highspy.Highs, solver).__init__()
    solver.setOptionValue("output_flag", False)
    solver.callbacks = []
    return solver


_KNOWN = local()


def _threads() -> int:
    """Return how many threads a solver may ask for: one, or 0 for those there are.

    HiGHS keeps its threads from one question to the next, and does not run for one
    that asks for another number. In a program that has used it before, those stay.
    """
    if not hasattr(_KNOWN, "threads"):
        tried = _bare()
        tried.setOptionValue("threads", 1)
        tried.addCol(1.0, 0.0, 1.0, 0, [], [])
        ran = tried.run() != highspy.HighsStatus.kError
        _KNOWN.threads = 1 if ran else 0
    return int(_KNOWN.threads)


def _model(arrays: Arrays, costs: Floats) -> highspy.HighsLp:
    model = highspy.HighsLp()
    model.num_col_, model.num_row_ = arrays.lower.size, arrays.row_lower.size
    model.col_cost_ = costs
    model.col_lower_, model.col_upper_ = arrays.lower, arrays.upper
    model.row_lower_, model.row_upper_ = arrays.row_lower, arrays.row_upper
    matrix = model.a_matrix_
    matrix.format_ = highspy.MatrixFormat.kRowwise
    matrix.num_col_, matrix.num_row_ = model.num_col_, model.num_row_
    matrix.start_ = arrays.starts.astype(np.int32)
    matrix.index_ = arrays.columns.astype(np.int32)
    matrix.value_ = arrays.values
    if arrays.whole.any():
        kinds = highspy.HighsVarType
        model.integrality_ = [
            kinds.kInteger if whole else kinds.kContinuous for whole in arrays.whole
        ]
    return model
