"""The study: how the plain formula fares by chance, and what bearing more costs."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain import wording
from optimiser.domain.catalogue import Catalogue
from optimiser.domain.rule import Programme
from optimiser.domain.scenario import Scenario
from optimiser.errors import InputError, Problem, ProofError
from optimiser.explaining import Clash, clash_of
from optimiser.explaining.answering import (
    NoFormula,
    answer,
    best,
    lined,
    questions,
    reshaped,
)
from optimiser.explaining.opinions import Solved
from optimiser.explaining.stepping import stepped
from optimiser.studies.made import About, Made, Told, made, told
from optimiser.studies.robust.counterpart import (
    deviations,
    robust_programme,
    worst_value,
)
from optimiser.studies.robust.doubt import Doubt
from optimiser.studies.robust.simulation import Progress, Simulated, simulate

__all__ = ["Budgeted", "Robust", "robust"]

BUDGETS = (0.5, 1.0, 2.0)
HALVINGS = 7


class Budgeted(Struct, frozen=True):
    """A budget of doubts, and the formula that bears it; None where none does.

    ``premium`` is money per kg, at the usual prices, over the plain formula;
    ``in_steps`` whether it is in the steps that are asked for, None if none are.
    """

    budget: float
    formula: Made | None
    premium: float | None
    simulated: Simulated | None
    in_steps: bool | None = None


class Robust(Struct, frozen=True):
    """The plain formula and formulas that bear more. ``most`` is the largest budget.

    ``most`` None means that every figure may be at its worst at once. The plain formula
    is the one that `formulate` shows, but for a cautious scenario (``cautious``), whose
    figures are counted as usual here; ``step`` is what it is asked to come in, percent,
    and ``in_steps`` whether it does, None where nothing is asked for.
    """

    about: About
    doubt: Doubt
    seed: int
    plain: Made
    simulated: Simulated
    budgets: tuple[Budgeted, ...]
    most: float | None
    told: Told
    stopped: bool = False
    cautious: bool = False
    step: float | None = None
    in_steps: bool | None = None


def robust(
    scenario: Scenario,
    catalogue: Catalogue,
    doubt: Doubt | None = None,
    budgets: Sequence[float] = BUDGETS,
    *,
    draws: int = 10_000,
    seed: int = 1,
    progress: Progress | None = None,
) -> Robust | Clash:
    """Return how a scenario's formula fares, and what one that bears more costs.

    Parameters
    ----------
    budgets : sequence of float
        How many doubts of one rule may be at their worst at once.

    Notes
    -----
    Ended by the keyboard, it returns what is done (see ``stopped``).
    """
    doubt = doubt or Doubt()
    doubt.check(scenario.batch_kg)
    _check(budgets, draws, seed)
    cautious, scenario = scenario.cautious, replace(scenario, cautious=False)
    start = answer(scenario, catalogue)
    if isinstance(start, NoFormula):
        return clash_of(start, catalogue)
    study = _Study(scenario, catalogue, doubt, draws, seed)
    plain = made("plain", start, catalogue)
    total = draws * (1 + len(budgets))
    simulated = study.simulate(start, _part(progress, 0, total))
    found: list[Budgeted] = []
    stopped = simulated.stopped
    most: float | None = 0.0
    try:
        for number, budget in enumerate(budgets, start=1):
            if stopped:
                break
            part = _part(progress, number * draws, total)
            found.append(study.budgeted(budget, plain, part))
            last = found[-1].simulated
            stopped = last is not None and last.stopped
        most = 0.0 if stopped else study.most()
    except KeyboardInterrupt:
        stopped = True
    formulas = [plain, *(b.formula for b in found if b.formula)]
    return Robust(
        about=About.of(scenario, catalogue),
        doubt=doubt,
        seed=seed,
        plain=plain,
        simulated=simulated,
        budgets=tuple(found),
        most=most,
        told=told(formulas, scenario, catalogue, lined=study.lined),
        stopped=stopped,
        cautious=cautious,
        step=None if scenario.steps is None else scenario.steps.step,
        in_steps=_in_steps(start),
    )


def _in_steps(found: Solved) -> bool | None:
    """Return whether a formula is in the steps that are asked for; None if none are."""
    return None if found.steps is None else found.steps.optimum is not None


def _check(budgets: Sequence[float], draws: int, seed: int) -> None:
    problems = [
        Problem(
            "is no budget",
            field="--budget",
            found=f"{budget:g}",
            fix="give how many doubts are at their worst at once: above 0, to 1000",
        )
        for budget in budgets
        if not 0 < budget <= 1000
    ]
    if not 1 <= draws <= 1_000_000:
        fix = "give a whole number from 1 to 1000000"
        problems.append(
            Problem("is no number of draws", None, None, "--draws", str(draws), fix)
        )
    if seed < 0:
        fix = "give a whole number from 0 up"
        problems.append(
            Problem("is no start of draws", None, None, "--seed", str(seed), fix)
        )
    if problems:
        raise InputError(problems)


def _part(progress: Progress | None, before: int, total: int) -> Progress | None:
    """Return a progress that counts one simulation as a part of all."""
    if progress is None:
        return None
    return lambda done, _: progress(before + done, total)


class _Study:
    def __init__(
        self,
        scenario: Scenario,
        catalogue: Catalogue,
        doubt: Doubt,
        draws: int,
        seed: int,
    ) -> None:
        self.scenario, self.catalogue, self.doubt = scenario, catalogue, doubt
        self.draws, self.seed = draws, seed
        self.questions = questions(scenario, catalogue)
        # Formulas keep these too; what weighing does to them is not looked at.
        self.asked, self.lined = lined(self.questions, catalogue)

    def solved(self, budget: float) -> Solved | NoFormula:
        """Return the proved formula that bears a budget, or that there is none."""
        asked = reshaped(
            self.asked,
            lambda each: robust_programme(
                each.programme, each.scenario, self.doubt, budget
            ),
        )
        found = best(asked, self.catalogue, hear=False)
        if isinstance(found, Solved) and self.doubt.figures:
            self._prove(found, budget)
        return found

    def programme(self, scenario: Scenario) -> Programme:
        """Return the programme, with nothing held back, of a total of emulsifiers."""
        wanted = scenario.emulsify
        return next(
            q.programme for q in self.questions if q.scenario.emulsify == wanted
        )

    def _prove(self, found: Solved, budget: float) -> None:
        """Recompute the worst case of each rule on figures from those alone."""
        programme = self.programme(found.scenario)
        amounts = dict(enumerate(found.columns[: len(programme.ingredients)]))
        for number, moves in deviations(programme).items():
            rule = programme.rules[number]
            value = worst_value(rule, moves, amounts, budget)
            if value is None:
                continue
            miss = rule.limit - value if rule.side == "min" else value - rule.limit
            if miss > 1e-5 * max(1.0, abs(rule.limit)):
                raise ProofError(f"the formula does not bear the worst of {rule.id}")

    def simulate(self, found: Solved, progress: Progress | None) -> Simulated:
        return simulate(
            self.programme(found.scenario),
            found.amounts,
            found.scenario,
            self.catalogue,
            self.doubt,
            draws=self.draws,
            seed=self.seed,
            progress=progress,
        )

    def budgeted(
        self, budget: float, plain: Made, progress: Progress | None
    ) -> Budgeted:
        """Return the formula for a budget, its premium, and how it fares.

        It comes in the steps that are asked for, like the plain one, if it can.
        """
        found = self.solved(budget)
        if isinstance(found, NoFormula):
            return Budgeted(budget, None, None, None)
        found = stepped(found, self.catalogue, offer=False)
        if self.doubt.figures:
            self._prove(found, budget)
        formula = made(f"prepared for {wording.number(budget)}", found, self.catalogue)
        premium = None
        if formula.cost_per_kg is not None and plain.cost_per_kg is not None:
            premium = formula.cost_per_kg - plain.cost_per_kg
        fares = self.simulate(found, progress)
        return Budgeted(budget, formula, premium, fares, _in_steps(found))

    def most(self) -> float | None:
        """Return the largest budget that some formula bears; None without end."""
        size = float(len(self.questions[0].programme.ingredients))
        if isinstance(self.solved(size), Solved):
            return None
        good, bad = 0.0, size
        for halved in range(HALVINGS + 8):
            middle = (good + bad) / 2.0
            if isinstance(self.solved(middle), NoFormula):
                bad = middle
            else:
                good = middle
            if halved >= HALVINGS and bad - good < 0.01:
                break
        return good
