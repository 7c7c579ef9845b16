"""A formula on a scale: whole steps that keep every rule, or which cannot be kept."""

from __future__ import annotations

import math
from collections.abc import Iterator

from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.arrays import Floats
from optimiser.domain.bench import FineScale, Scales
from optimiser.domain.rule import Programme, Rule
from optimiser.errors import InputError, Problem
from optimiser.explaining.opinions import Solved, told
from optimiser.explaining.stepping import held
from optimiser.rules.weighing import (
    AS_WRITTEN,
    able_to_miss,
    in_weighable_steps,
    is_share,
)
from optimiser.solving import attempted
from optimiser.solving.patience import within

__all__ = ["SERIES", "Missed", "WeighedLine", "Weighing", "weigh"]

PATIENCE = 5.0  # seconds for one search
# Steps that scales have, kg.
SERIES: tuple[float, ...] = tuple(
    digit / 10**power for power in range(6, 0, -1) for digit in (1, 2, 5)
)
# A batch is made so much larger, at most, where rounder amounts then keep every rule.
GROWS = 1.02
ROUNDER = (10, 100, 1000)  # steps
MOST_LARGER = 2.0  # times the batch that is looked at for a way out
TOLERANCE = 1e-6  # of a limit: see the proof of an answer
# Whose rules may be missed, if they must, before law, safety and envelopes are.
FIRST_TO_GIVE = frozenset({"wish", "supplier", "practice", "model"})


class WeighedLine(Struct, frozen=True):
    """One ingredient as weighed: whole ``steps`` of so many kg, percent beside wanted.

    ``step`` is that of the scale it is weighed on.
    """

    ingredient: str
    steps: int
    step: float
    kg: float
    percent: float
    wanted_percent: float


class Missed(Struct, frozen=True):
    """A rule that the weighed amounts do not keep, and what they come to there."""

    rule: Rule
    value: float | None


class Weighing(Struct, frozen=True):
    """A formula in whole steps of a scale.

    ``lines`` are empty where nothing keeps even law and safety. ``nearest`` are the
    shares that no step meets, by the step beside them. ``finer`` (kg) is the coarsest
    readability, and ``larger`` (kg) the smallest round batch, at which every rule is
    kept, where some are ``missed`` here and one was found. ``grown`` says that the
    batch was made rounder than asked for.
    """

    readability: float
    batch_kg: float
    lines: tuple[WeighedLine, ...]
    missed: tuple[Missed, ...] = ()
    nearest: tuple[Missed, ...] = ()
    off_points: float = 0.0
    grown: bool = False
    finer: float | None = None
    larger: float | None = None

    @property
    def kept(self) -> bool:
        """Whether the weighed amounts keep every rule."""
        return bool(self.lines) and not self.missed


def weigh(
    solved: Solved,
    batch_kg: float,
    readability: float,
    *,
    fine: FineScale | None = None,
    may_grow: bool = False,
) -> Weighing:
    """Return the weighable amounts nearest to an answer that keep its rules.

    Parameters
    ----------
    solved : Solved
        An answer; its windows hold by the second opinion where they did there.
    batch_kg : float
        How much is made; rounded up to a whole step.
    readability : float
        Step of the scale, [kg].
    fine : FineScale, optional
        A finer one, for lines that it bears.
    may_grow : bool
        Whether up to 2 % more may be made, in rounder amounts, where no amounts of
        the batch itself keep every rule.

    Raises
    ------
    InputError
        If the batch is not a step of the scale for each ingredient.
    """
    scales = Scales.of(readability, fine)
    batch = scales.steps(batch_kg)
    _refuse_too_small(solved, batch, scales)
    rounder = list(_rounder(batch, GROWS, scales)) if may_grow else []
    for number, each in enumerate((batch, *rounder)):
        found = _kept(solved, each, scales)
        if found is not None:
            return replace(found, grown=number > 0)
    return replace(
        _missing(solved, batch, scales),
        finer=_finer(solved, batch, scales),
        larger=_larger(solved, batch, scales),
    )


def _refuse_too_small(solved: Solved, batch: int, scales: Scales) -> None:
    lines = len(solved.amounts)
    if batch >= lines:
        return
    wrong = (
        f"is less than a step of the scale ({scales.step * 1e3:g} g) for each of the"
        f" {lines} ingredients"
    )
    fix = "make more, or weigh on a finer scale"
    shown = f"{batch * scales.step * 1e3:g} g"
    raise InputError([Problem(wrong, field="the batch", found=shown, fix=fix)])


def _rounder(batch: int, most: float, scales: Scales) -> Iterator[int]:
    """Yield larger batches in rounder steps, up to so many times as large."""
    last = batch
    for rounder in ROUNDER:
        steps = rounder * scales.coarse
        each = -(-batch // steps) * steps
        if last < each <= batch * most:
            last = each
            yield each


def _kept(solved: Solved, batch: int, scales: Scales) -> Weighing | None:
    """Return amounts of so many steps that keep every rule, or None."""
    every = scales.every(solved.amounts, batch)
    asked = in_weighable_steps(solved.programme, solved.amounts, batch, every)
    with within(PATIENCE):
        found = held(asked, solved)
    if found is not None:
        weighing = _weighing(solved, asked, found.amounts, batch, scales)
        if weighing.kept:
            return weighing
    # What the search calls broken may be kept as far as an answer is proved.
    weighing = _missing(solved, batch, scales)
    return weighing if weighing.kept else None


def _missing(solved: Solved, batch: int, scales: Scales) -> Weighing:
    """Return the amounts that miss the rules by least, law and safety if need be."""
    every = scales.every(solved.amounts, batch)
    for may in (
        lambda rule: rule.owner in FIRST_TO_GIVE,
        lambda rule: rule.kind != "total",
    ):
        able, least = able_to_miss(solved.programme, may)
        asked = in_weighable_steps(able, solved.amounts, batch, every)
        asked = replace(asked, goals=(least, *asked.goals))
        with within(PATIENCE):
            found = attempted(asked)
        if found is not None:
            weighing = _weighing(solved, asked, found.amounts, batch, scales)
            lawful = all(m.rule.owner in FIRST_TO_GIVE for m in weighing.missed)
            return weighing if lawful else replace(weighing, lines=())
    return Weighing(scales.readability, batch * scales.step, ())


def _weighing(
    solved: Solved, asked: Programme, amounts: Floats, batch: int, scales: Scales
) -> Weighing:
    """Return what amounts come to on the scale, every rule looked at anew."""
    wanted = solved.amounts
    every = scales.every(wanted, batch)
    steps = {
        column.key: every[column.key] * round(float(amounts[number]))
        for number, column in enumerate(asked.columns)
        if column.kind == "steps"
    }
    own = amounts[: len(solved.programme.columns)].copy()
    for number, key in enumerate(solved.programme.ingredients):
        own[number] = 100.0 * steps.get(key, 0) / batch
    missed: list[Missed] = []
    nearest: list[Missed] = []
    for rule in solved.programme.rules:
        slack = rule.slack(own)
        if slack is None or slack >= -_room(rule, own):
            continue
        near = is_share(rule) and -slack <= AS_WRITTEN + TOLERANCE
        (nearest if near else missed).append(Missed(rule, rule.value(own)))
    by_sums = {each.rule.id for each in missed}
    by_opinion = _by_the_second_opinion(solved, own)
    missed += [each for each in by_opinion if each.rule.id not in by_sums]
    lines = tuple(
        WeighedLine(
            key,
            steps[key] // every[key],
            scales.readability if every[key] == scales.coarse else scales.step,
            steps[key] * scales.step,
            100.0 * steps[key] / batch,
            wanted[key],
        )
        for key in wanted
    )
    off = 0.5 * math.fsum(abs(x.percent - x.wanted_percent) for x in lines)
    return Weighing(
        scales.readability,
        batch * scales.step,
        lines,
        tuple(missed),
        tuple(nearest),
        off,
    )


def _room(rule: Rule, own: Floats) -> float:
    """Return by how much a rule may be off and still be kept, in its own unit.

    As far as an answer is proved, counted in the rule's row: of a share of a part that
    is a hundredth of it.
    """
    room = TOLERANCE * max(1.0, abs(rule.limit))
    below = rule.per_constant + rule.per.at(own)
    if rule.logarithmic or below <= 0.0:
        return room
    return room * min(1.0, max(1.0, rule.per_constant) / below)


def _by_the_second_opinion(solved: Solved, own: Floats) -> list[Missed]:
    """Return the windows that held by the second opinion and do not as weighed."""
    if solved.outcome not in {"agrees", "held"} or not solved.scenario.second_opinion:
        return []
    said = told(solved.opinion, solved.programme, own)
    lines = () if said is None else said.lines
    return [Missed(line.rule, line.second) for line in lines if line.holds is False]


def _finer(solved: Solved, batch: int, scales: Scales) -> float | None:
    """Return the coarsest finer step of a scale at which every rule is kept, kg."""
    for step in reversed(SERIES):
        parts = scales.readability / step
        whole = round(parts)
        if whole < 2 or abs(parts - whole) > TOLERANCE * parts:
            continue
        finer = Scales.of(step, scales.fine)
        if _kept(solved, finer.steps(batch * scales.step), finer) is not None:
            return step
    return None


def _larger(solved: Solved, batch: int, scales: Scales) -> float | None:
    """Return the smallest round batch at which every rule is kept, kg."""
    for each in _rounder(batch, MOST_LARGER, scales):
        if _kept(solved, each, scales) is not None:
            return each * scales.step
    return None
