"""One HiGHS model, kept and changed in place: moved limits, forced ingredients.

A re-solve from the last corner costs a fraction of a rebuild; everything that is
said about prices and clashes is asked here. Whoever changes something puts it back.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import highspy
import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.arrays import Floats, Mask
from optimiser.domain.rule import Programme
from optimiser.errors import OptimiserError
from optimiser.solving.arrays import Arrays, dense, side_bounds
from optimiser.solving.diving import MANY, dived
from optimiser.solving.ending import Ending
from optimiser.solving.loading import loaded
from optimiser.solving.patience import searched

__all__ = [
    "FAR",
    "Corner",
    "CutShortError",
    "Session",
    "SolverError",
]

# Times the limit: no limit is ever moved so far; beyond it is "without end".
FAR = 1e4
DUAL, PRIMAL = 1, 4  # simplex_strategy
# Other ways to ask where a solver loses its way; the first only begins anew.
OTHERWISE = (
    ("output_flag", False),
    ("presolve", "off"),
    ("simplex_scale_strategy", 0),
    ("solver", "ipm"),
)
# A search without what the solver does to find formulas early, but that it rounds what
# comes by. It keeps no cuts and simplifies at the root alone, where it halves the tree:
# more of either costs a small tree more than its nodes, as does trying out where to
# branch. And how long it is.
PLAIN: dict[str, bool | int | float] = {
    "mip_heuristic_effort": 0.0,
    "mip_heuristic_run_feasibility_jump": False,
    "mip_heuristic_run_root_reduced_cost": False,
    "mip_heuristic_run_rins": False,
    "mip_heuristic_run_rens": False,
    "mip_heuristic_run_zi_round": True,
    "mip_pool_soft_limit": 1,
    "mip_pscost_minreliable": 0,
    "mip_root_presolve_only": True,
}
PLAIN_NODES = 300
PROVED = 1e-9  # of itself that a best value may be above what none can beat
# How a search ends that is out of time, or out of nodes.
TIME_IS_UP = highspy.HighsModelStatus.kTimeLimit
ENDED = frozenset({TIME_IS_UP, highspy.HighsModelStatus.kSolutionLimit})


class SolverError(OptimiserError):
    """The solver stopped without an answer, or said something unexpected."""


class CutShortError(SolverError):
    """A search was ended before it had found anything; there may be a formula."""


class Corner(Struct, frozen=True, eq=False):
    """What the solver reports at an optimum."""

    amounts: Floats
    row_prices: Floats
    objective: float


class Session:
    """A programme in the solver, solved for one goal at a time.

    Parameters
    ----------
    programme : Programme
    arrays : Arrays, optional
        Its arrays, when they have been made already.
    near : float array, optional
        Amounts that keep every rule, for a search to begin from.
    solver : highspy.Highs, optional
        One to load into, that no other session is asked with any more.

    Notes
    -----
    Rows beyond the programme's own hold the goals, one each and free at first; one
    column beyond its own, fixed at zero, walks a limit along (see :meth:`reach`).
    """

    def __init__(
        self,
        programme: Programme,
        arrays: Arrays | None = None,
        near: Floats | None = None,
        solver: highspy.Highs | None = None,
    ) -> None:
        self.programme = programme
        self.arrays = arrays or Arrays.of(programme)
        self.size = self.arrays.lower.size
        self.rows = self.arrays.row_lower.size
        self._walker = self.size
        self._costs = [
            np.append(dense(goal, self.size), 0.0) for goal in programme.goals
        ]
        self._solver = loaded(self.arrays, self._costs[0][: self.size], near, solver)
        self._all = np.arange(self.size + 1, dtype=np.int32)
        self._curves: dict[int, tuple[list[int], Floats, Floats]] = {}
        self._groups = programme.together()
        self.stage = 0
        self._ready = False
        self._whole = np.flatnonzero(self.arrays.whole).astype(np.int32)
        self._kept: dict[int, Floats] = {}
        self._bound = -math.inf
        self.cut_short = False

    def _extend(self) -> None:
        """Add the goal rows and the walker; done late, for a clash needs neither."""
        if self._ready:
            return
        self._solver.addCol(0.0, 0.0, 0.0, 0, [], [])
        for goal in self.programme.goals:
            self._solver.addRow(
                -math.inf,
                math.inf,
                goal.row.columns.size,
                goal.row.columns.astype(np.int32),
                goal.row.coefficients,
            )
        self._ready = True

    # -- solving ---------------------------------------------------------------

    def run(self) -> bool:
        """Solve as it stands; return whether a formula exists.

        Raises
        ------
        CutShortError
            If a search was ended before it knew.
        SolverError
            If the solver stops for any other reason.
        """
        kinds = highspy.HighsModelStatus
        status = self._run_once()
        for option, value in OTHERWISE:
            if status in {kinds.kOptimal, kinds.kInfeasible, *ENDED}:
                break
            self._solver.clearSolver()  # it lost its way from the last corner
            _, usual = self._solver.getOptionValue(option)
            self._solver.setOptionValue(option, value)
            status = self._run_once()
            self._solver.setOptionValue(option, usual)
        if status == kinds.kOptimal:
            return True
        if status == kinds.kInfeasible:
            return False
        if status in ENDED and self._has_found():
            self.cut_short = self.cut_short or not self._is_proved()
            return True
        if status == kinds.kMemoryLimit:
            raise MemoryError
        if status in ENDED:
            raise CutShortError("the search was ended before it had found a formula")
        raise SolverError(f"the solver stopped with '{status}'")

    def simplify(self) -> None:
        """Let the next search simplify first: a third less, where counts tell all."""
        self._solver.setOptionValue("presolve", "on")

    def basis(self) -> highspy.HighsBasis:
        """Return the corner where the last solve ended, to start from again."""
        return self._solver.getBasis()

    def start_from(self, basis: highspy.HighsBasis) -> None:
        """Let the next solve start from a corner of before."""
        self._solver.setBasis(basis)

    def start_afresh(self) -> None:
        """Forget the last corner: the next solve starts cold."""
        self._solver.clearSolver()

    def _run_once(self) -> highspy.HighsModelStatus:
        status = self._solver.getModelStatus()
        if status == highspy.HighsModelStatus.kOptimal:
            return status  # nothing has changed since it was solved
        if self._whole.size and not self._kept:
            self._search()
        else:
            self._solver.run()
        return self._solver.getModelStatus()

    def _search(self) -> None:
        """Search a plain tree of some nodes; where that is not enough, with all means.

        What the solver tries to find formulas early costs a small question more than
        its whole tree.
        """
        usual = {name: self._solver.getOptionValue(name)[1] for name in PLAIN}
        for name, value in PLAIN.items():
            self._solver.setOptionValue(name, value)
        self._bound = -math.inf
        ended = self._whole.size >= MANY and self._begin_near()
        ended = ended or searched(self._solver, PLAIN_NODES)
        for name, own in usual.items():
            self._solver.setOptionValue(name, own)
        if not ended and self._solver.getModelStatus() != TIME_IS_UP:
            searched(self._solver)

    def _begin_near(self) -> bool:
        """Begin a large search from what a smaller one finds; whether that is the best.

        What is alike among thousands of choices takes longer to be found than all else.
        """
        self._solver.setOptionValue("mip_detect_symmetry", False)
        dive = dived(self.programme, self._solver)
        self._bound = dive.bound
        if dive.amounts is None:
            return False
        start = highspy.HighsSolution()
        start.col_value = dive.amounts.tolist()
        self._solver.setSolution(start)
        if dive.value > dive.bound + PROVED * max(1.0, abs(dive.bound)):
            return False
        searched(self._solver, 0)
        return self._has_found()

    def _is_proved(self) -> bool:
        """Whether what a search has found is as good as any can be."""
        bound = self.search_bound()
        return self.objective() <= bound + PROVED * max(1.0, abs(bound))

    def _has_found(self) -> bool:
        """Whether a search that was cut short has a formula to show."""
        status = int(self._solver.getInfo().primal_solution_status)
        return status == int(highspy.SolutionStatus.kSolutionStatusFeasible)

    # -- what the last solve found ---------------------------------------------

    def objective(self) -> float:
        """Return the current goal's value at the last solve."""
        return float(self._solver.getObjectiveValue())

    def search_bound(self) -> float:
        """Return the value that no formula can beat, as the search proved it."""
        return max(float(self._solver.getInfo().mip_dual_bound), self._bound)

    def conflicting_rows(self) -> set[int] | None:
        """Return rows of a small clash as the solver finds it; None if it cannot.

        Strategy 4 asks for an irreducible set; only status 3 says that it is one,
        and a caller proves minimality in rules by itself all the same.
        """
        self._solver.setOptionValue("iis_strategy", 4)
        _, found = self._solver.getIis()
        if int(found.status_) != 3:
            return None
        return {int(row) for row in found.row_index_}

    def prices_are_unique(self) -> bool:
        """Whether the corner has one set of prices, so that both sides are alike."""
        return Ending.of(self._solver).has_one_price_each

    def answer_is_unique(self) -> bool:
        """Whether every way to leave the corner costs something."""
        return Ending.of(self._solver).is_the_only_one

    def corner(self) -> Corner:
        """Return amounts (one a programme column) and prices (one a row)."""
        solution = self._solver.getSolution()
        return Corner(
            np.array(solution.col_value)[: self.size],
            np.array(solution.row_dual),
            self.objective(),
        )

    def activity(self) -> Floats:
        """Return the sum of each of the programme's rows at the corner."""
        return np.array(self._solver.getSolution().row_value)[: self.rows]

    def reduced_costs(self) -> Floats:
        """Return what a little of each amount would cost the goal, at its prices."""
        prices = self.corner().row_prices
        reduced = self._costs[self.stage][: self.size] - self.arrays.transposed(
            prices[: self.rows]
        )
        for number, held in enumerate(prices[self.rows :][: self.stage]):
            reduced = reduced - held * self._costs[number][: self.size]
        return reduced

    def bound_ranges(self) -> tuple[Floats, Floats] | None:
        """Return between what the bound of each rule's row keeps the corner's prices.

        None where the corner is not the only one, or has more than one set of prices:
        there the goal may go on in a straight line where the corner does not.
        """
        ending = Ending.of(self._solver)
        if not (ending.has_one_price_each and ending.is_the_only_one):
            return None
        return self._ranges()

    def corner_ranges(self) -> tuple[Floats, Floats] | None:
        """Return between what the bound of each rule's row keeps the corner itself.

        Its prices are right there, whatever others it has and however many corners are
        as good. That may be no way at all; NaN for a row that it does not rest on.
        """
        ending, ranges = Ending.of(self._solver), self._ranges()
        if ranges is None:
            return None
        idle = ending.basic[ending.columns :][: self.rows]
        low, high = (np.where(idle, math.nan, bounds) for bounds in ranges)
        return low, high

    def _ranges(self) -> tuple[Floats, Floats] | None:
        _, found = self._solver.getRanging()
        if not found.valid:
            return None
        return (
            np.array(found.row_bound_dn.value_)[: self.rows],
            np.array(found.row_bound_up.value_)[: self.rows],
        )

    # -- goals -----------------------------------------------------------------

    def aim_at(self, stage: int, tops: Sequence[float]) -> None:
        """Minimise goal ``stage`` with goals before it at or below ``tops``.

        What stands so already is left alone: where all does, nothing is solved anew.
        """
        self._extend()
        model = self._solver.getLp()
        free = [math.inf] * (len(self._costs) - stage)
        stand = model.row_upper_[self.rows :]
        for number, top in enumerate((*tops[:stage], *free)):
            if top != stand[number]:
                self._solver.changeRowBounds(self.rows + number, -math.inf, top)
        kept = self._kept.get(stage)
        if kept is not None:
            ends = np.array([model.col_lower_, model.col_upper_])[:, self._whole]
            if not np.all(ends == kept):
                self._solver.changeColsBounds(kept.size, self._whole, kept, kept)
        if not np.array_equal(model.col_cost_, self._costs[stage]):
            self._set_costs(self._costs[stage])
        self.stage = stage

    def hold(self, top: float) -> None:
        """Keep the current goal at or below ``top`` (until :meth:`aim_at`)."""
        self._solver.changeRowBounds(self.rows + self.stage, -math.inf, top)

    def wish(self, costs: Floats) -> None:
        """Minimise something else, one number an amount (until :meth:`aim_at`)."""
        full = np.zeros(self.size + 1)
        full[: costs.size] = costs
        self._set_costs(full)

    def aim_at_nothing(self) -> None:
        """Ask only whether a formula exists."""
        self._set_costs(np.zeros(self.size))

    def _set_costs(self, costs: Floats) -> None:
        self._solver.changeColsCost(costs.size, self._all[: costs.size], costs)

    def expect_other_costs(self) -> None:
        """Solve from now on as suits a model of which nothing but costs will change.

        Its last corner stays allowed then, which the primal simplex begins from; the
        dual one, which suits other limits, takes twice as many steps.
        """
        self._solver.setOptionValue("simplex_strategy", PRIMAL)

    def expect_other_limits(self) -> None:
        """Solve from now on as suits moved limits, as a session does at first."""
        self._solver.setOptionValue("simplex_strategy", DUAL)

    def resolve_with_costs(self, costs: Floats) -> highspy.HighsSolution:
        """Solve again with other costs of the first columns, and return the solution.

        The costs stay until a goal is set again (see :meth:`aim_at`).

        Raises
        ------
        SolverError
            If there is no formula; costs alone cannot take it away.
        """
        self._solver.changeColsCost(costs.size, self._all[: costs.size], costs)
        if not self.run():
            raise SolverError("costs alone took the formula away")
        return self._solver.getSolution()

    def basic(self) -> tuple[Mask, Mask]:
        """Return which columns, and which rows, the last corner solves for."""
        ending = Ending.of(self._solver)
        columns, rows = np.split(ending.basic, [ending.columns])
        return columns[: self.size], rows

    # -- changes in place --------------------------------------------------------

    def keep_choices(self, stage: int, amounts: Floats) -> None:
        """Keep a formula's choices whenever goal ``stage`` is aimed at.

        Each column of whole numbers stays at its value there and is no longer whole;
        a goal whose choices are not kept must not be aimed at any more.
        """
        if not self._kept:
            for column in self._whole:
                self._solver.changeColIntegrality(
                    int(column), highspy.HighsVarType.kContinuous
                )
        self._kept[stage] = amounts[self._whole]

    def bound(self, column: int, lower: float, upper: float) -> None:
        """Set the bounds of a column."""
        self._solver.changeColBounds(column, lower, upper)

    def unbound(self, column: int) -> None:
        """Give a column its own bounds again, or the choice that is kept of it."""
        low, high = float(self.arrays.lower[column]), float(self.arrays.upper[column])
        kept = self._kept.get(self.stage)
        if kept is not None and self.arrays.whole[column]:
            low = high = float(kept[int(np.flatnonzero(self._whole == column)[0])])
        self._solver.changeColBounds(column, low, high)

    def charge(self, column: int, cost: float | None) -> None:
        """Let a column cost something else in the current goal; None: as before."""
        own = float(self._costs[self.stage][column])
        self._solver.changeColCost(column, own if cost is None else cost)

    def costs(self) -> Floats:
        """Return what the current goal is made of, one number a column."""
        return self._costs[self.stage][: self.size]

    def arrays_held(self) -> Arrays | None:
        """Return the rows as they stand: choices kept, earlier goals at their tops.

        None where the current goal's choices are not kept.
        """
        kept = self._kept.get(self.stage)
        if kept is None:
            return None
        lower, upper = self.arrays.lower.copy(), self.arrays.upper.copy()
        lower[self._whole] = upper[self._whole] = kept
        model = self._solver.getLp()
        here = slice(self.rows, self.rows + self.stage)
        held = [goal.row for goal in self.programme.goals[: self.stage]]
        sizes = np.cumsum([row.columns.size for row in held], dtype=np.int64)
        return replace(
            self.arrays,
            starts=np.append(self.arrays.starts, self.arrays.starts[-1] + sizes),
            columns=np.concatenate([self.arrays.columns, *(r.columns for r in held)]),
            values=np.concatenate(
                [self.arrays.values, *(r.coefficients for r in held)]
            ),
            row_lower=np.append(self.arrays.row_lower, model.row_lower_[here]),
            row_upper=np.append(self.arrays.row_upper, model.row_upper_[here]),
            lower=lower,
            upper=upper,
        )

    @property
    def has_tangents(self) -> bool:
        """Whether some rules move with others: the model's, near one formula."""
        return bool(self._groups)

    def together(self, rule: int) -> tuple[int, ...]:
        """Return the numbers of the rules whose limits move with a rule's, it too."""
        return self._groups.get(rule, (rule,))

    def move(self, rule: int, limit: float) -> None:
        """Set the limit of rule number ``rule``, and of what moves with it."""
        rules = self.programme.rules
        for each in self.together(rule):
            self._move(each, rules[each].limit + limit - rules[rule].limit)

    def _move(self, rule: int, limit: float) -> None:
        subject = self.programme.rules[rule]
        inner = subject.inner(limit)
        if subject.curved:
            change = self._solver.changeCoeff
            columns, own, below = self._curve(rule)
            for column, value in zip(
                columns, (own - inner * below).tolist(), strict=True
            ):
                change(rule, column, value)
        bound = inner * subject.per_constant
        self._solver.changeRowBounds(rule, *side_bounds(subject, bound))

    def _curve(self, rule: int) -> tuple[list[int], Floats, Floats]:
        """Return what a limit multiplies in a rule's row: columns, own, below."""
        if rule not in self._curves:
            subject = self.programme.rules[rule]
            own, below = np.zeros(self.size), np.zeros(self.size)
            own[subject.amounts.columns] = subject.amounts.coefficients
            below[subject.per.columns] = subject.per.coefficients
            moved = np.flatnonzero(below)
            self._curves[rule] = (moved.tolist(), own[moved], below[moved])
        return self._curves[rule]

    def put(self, row: int, column: int, coefficient: float) -> None:
        """Set one number of a row; whoever does puts its own back."""
        self._solver.changeCoeff(row, column, coefficient)

    def restore(self, rule: int) -> None:
        """Put a rule back as it was written."""
        self.move(rule, self.programme.rules[rule].limit)

    def free(self, rule: int) -> None:
        """Let a rule go; :meth:`restore` brings it back."""
        self._solver.changeRowBounds(rule, -math.inf, math.inf)

    # -- walking a limit ---------------------------------------------------------

    def reach(self, rule: int, direction: float, slope: float, best: float) -> float:
        """Return how far a limit can move with the goal changing by ``slope``.

        Parameters
        ----------
        direction : float
            +1 or -1: which way the limit moves.
        slope : float
            Change of the goal per unit moved, exact at the start.
        best : float
            The goal's value with the limit where it is.

        Returns
        -------
        float
            Units of the limit; ``inf`` without end.

        Notes
        -----
        The goal is a convex function of a limit, so it lies on its first straight
        piece exactly as long as some formula costs no more than that line says:
        one programme in the amounts and the distance ``t``. Source: parametric
        linear programming; Jansen et al., EJOR 101:15, 1997 (the interval of the
        value function, not of one basis).
        """
        self._extend()
        subject = self.programme.rules[rule]
        tied = self.rows + self.stage
        moved = {n: self.programme.rules[n].per_constant for n in self.together(rule)}
        for each, per in moved.items():
            self._solver.changeCoeff(each, self._walker, -direction * per)
        self._solver.changeCoeff(tied, self._walker, -slope)
        far = FAR * max(1.0, abs(subject.limit))
        self._solver.changeColBounds(self._walker, 0.0, far)
        costs = np.zeros(self.size + 1)
        costs[self._walker] = -1.0
        self._set_costs(costs)
        corner = self._solver.getBasis()
        try:
            found = self._furthest(best)
        finally:
            self._solver.setOptionValue("simplex_strategy", DUAL)
            for each in moved:
                self._solver.changeCoeff(each, self._walker, 0.0)
            self._solver.changeCoeff(tied, self._walker, 0.0)
            self._solver.changeRowBounds(tied, -math.inf, math.inf)
            self._solver.changeColBounds(self._walker, 0.0, 0.0)
            self._set_costs(self._costs[self.stage])
            self._solver.setBasis(corner)
        return math.inf if found >= 0.999 * far else found

    def _furthest(self, best: float) -> float:
        """Return the distance walked, with a little more room if the solver is lost.

        What the room itself is worth is taken off again: where the goal hardly bends
        at the end of its piece, rounding would carry the line on past it.
        """
        tied = self.rows + self.stage
        for strategy, room in ((PRIMAL, 1e-10), (DUAL, 1e-10), (DUAL, 1e-8)):
            more = room * max(1.0, abs(best))
            self._solver.changeRowBounds(tied, -math.inf, best + more)
            self._solver.setOptionValue("simplex_strategy", strategy)
            try:
                if not self.run():
                    return 0.0
            except SolverError:
                self.start_afresh()
                continue
            solution, walked = self._solver.getSolution(), -self.objective()
            if not solution.dual_valid:
                return walked
            return max(0.0, walked + float(solution.row_dual[tied]) * more)
        raise SolverError("how far a price holds could not be found")
