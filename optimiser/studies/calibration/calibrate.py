"""The maker's own trials shift the model: how far, and how much they support it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
from msgspec import Struct

from optimiser.domain.arrays import Floats
from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import Origin
from optimiser.domain.properties import PROPERTIES
from optimiser.domain.scenario import Scenario, Window
from optimiser.domain.trial import Trial
from optimiser.rules import part_amounts
from optimiser.science.fitting import Shift, each_left_out, fit_between
from optimiser.science.mixing import Blend, blend_value
from optimiser.science.properties import figure
from optimiser.studies.calibration.observations import (
    THUMB,
    Observation,
    PassedOver,
    no_target,
    observations,
    target,
)
from optimiser.studies.calibration.proposing import Proposal, proposed
from optimiser.studies.calibration.shifts import (
    Moved,
    OverrideRow,
    moved_catalogue,
    override_rows,
)
from optimiser.studies.calibration.support import Support, support_of

__all__ = ["Calibration", "IngredientShift", "TrialLine", "calibrate"]

# A window is proposed for another where so many more verdicts agree with it.
BETTER = 2
# A curve that the trials tell less of than this stays as published.
LEAST_SUPPORT = 0.02


class TrialLine(Struct, frozen=True):
    """One observation with what the model said before and says after, in points.

    ``observed`` is a verdict, else the reading: of a drop point in deg C, of a
    penetration as the trial has it.
    """

    trial: str
    made_from: str | None
    kind: str
    observed: str | float
    at: float
    low: float
    high: float
    before: float
    after: float
    left_out: float | None


class IngredientShift(Struct, frozen=True):
    """How an ingredient's curve moved; ``by`` and ``doubt`` in half spreads.

    ``before`` and ``after`` are its own firmness at ``at`` deg C.
    """

    ingredient: str
    name: str
    by: float
    doubt: float
    support: float
    at: float
    before: float
    after: float


class Calibration(Struct, frozen=True):
    """What the trials came to. ``rows`` are what the workshop would be given.

    ``unexplained`` are the bars that the figures, moved as far as the trials could
    move them, still contradict by more than what was seen may be off. ``proposal`` is
    a window that the verdicts speak for, where the scenario has none, or one that
    fewer of them agree with, the figures being as published.
    """

    title: str
    file: str
    workshop: str
    trials: int
    window: Window
    support: Support
    lines: tuple[TrialLine, ...]
    shifts: tuple[IngredientShift, ...]
    rows: tuple[OverrideRow, ...]
    base_before: Blend | None
    base_after: Blend | None
    unused: tuple[PassedOver, ...]
    unexplained: tuple[TrialLine, ...] = ()
    proposal: Proposal | None = None


def calibrate(
    trials: Sequence[Trial], scenario: Scenario, catalogue: Catalogue
) -> Calibration:
    """Return how far trials shift the published curves, and how far they bear that.

    Parameters
    ----------
    trials : sequence of Trial
    scenario : Scenario
        Its window on firmness says what "right" is. Without one, the verdicts are
        asked for a window and move no figure: they cannot tell both.
    catalogue : Catalogue
        Read without an earlier calibration, or the trials would count twice.

    Raises
    ------
    InputError
        If the scenario has no window on firmness and the trials speak for none.

    Notes
    -----
    Regularised least squares (`optimiser.science.fitting.fit_between`): each fat and
    wax has one number, how far its curve moves within its published spread, held
    towards 0; a verdict asks that the bar's firmness lie below, in or above the
    window.
    """
    asked = target(scenario)
    proposal = _proposal(trials, scenario, catalogue, asked)
    window = asked or _as_window(proposal, trials, scenario)
    every, unused = observations(trials, scenario, catalogue, window)
    seen = [each for each in every if asked or each.kind != "verdict"]
    keys = sorted({key for each in seen for key in each.steps})
    fitted = _as_arrays(seen, keys)
    shift = fit_between(*fitted)
    moves = _moves(seen, keys, shift)
    after = moved_catalogue(catalogue, moves)
    models = np.array([each.model for each in seen])
    left_out = (models + each_left_out(*fitted)).tolist()
    lines = _lines(seen, scenario, window, after, left_out)
    unexplained = tuple(
        line for line, each in zip(lines, seen, strict=True) if _miss(line) > each.noise
    )
    if asked is None:
        judged = [each for each in every if each.kind == "verdict"]
        lines += _lines(judged, scenario, window, after, [math.nan] * len(judged))
    elif proposal is not None:
        verdicts = [line for line in lines if line.kind == "verdict"]
        met = sum(
            line.low - THUMB <= line.before <= line.high + THUMB for line in verdicts
        )
        if proposal.met < met + BETTER:
            proposal = None
    return Calibration(
        title=scenario.title,
        file=scenario.file,
        workshop=scenario.workshop,
        trials=len(trials),
        window=window,
        support=support_of(seen, shift, left_out, len(unexplained)),
        lines=tuple(lines),
        shifts=tuple(_shifts(keys, shift, window, catalogue, after)),
        rows=override_rows(catalogue, moves),
        base_before=_base(scenario, catalogue, window),
        base_after=_base(scenario, after, window),
        unused=unused,
        unexplained=unexplained,
        proposal=proposal,
    )


def _proposal(
    trials: Sequence[Trial],
    scenario: Scenario,
    catalogue: Catalogue,
    asked: Window | None,
) -> Proposal | None:
    """Return the window that the verdicts speak for, in the place of what is asked."""
    if asked is None:
        return proposed(trials, scenario, catalogue)
    return proposed(trials, scenario, catalogue, at=asked.at, over=asked.over)


def _as_window(
    proposal: Proposal | None, trials: Sequence[Trial], scenario: Scenario
) -> Window:
    """Return the proposed window; an open one where drop points need none.

    Raises
    ------
    InputError
        If only a window would give the trials a meaning.
    """
    origin = Origin(scenario.file)
    if proposal is not None:
        return Window(
            "firmness",
            proposal.at,
            None,
            proposal.over,
            proposal.low,
            proposal.high,
            None,
            origin,
        )
    if not any(each.drop_point is not None for each in trials):
        raise no_target(scenario)
    return Window("firmness", 25.0, None, "lipids", None, None, None, origin)


def _miss(line: TrialLine) -> float:
    """Return by how much what the model says after all lies outside what was seen."""
    return max(line.low - line.after, line.after - line.high, 0.0)


def _as_arrays(
    seen: Sequence[Observation], keys: Sequence[str]
) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Return what a fit of the steps, in half spreads, takes: see `fit_between`."""
    design = np.array([[each.steps.get(key, 0.0) for key in keys] for each in seen])
    return (
        design.reshape(len(seen), len(keys)),
        np.array([each.low - each.model for each in seen]),
        np.array([each.high - each.model for each in seen]),
        np.array([each.noise for each in seen]),
        np.ones(len(keys)),
    )


def _moves(
    seen: Sequence[Observation], keys: Sequence[str], shift: Shift
) -> dict[str, Moved]:
    """Return the moves of the curves that the trials tell something of."""
    told = zip(keys, shift.values, shift.doubt, shift.support, strict=True)
    moves = {}
    for key, by, doubt, support in told:
        if support >= LEAST_SUPPORT:
            at = [each.at for each in seen if key in each.steps]
            moves[key] = Moved(float(by), float(doubt), min(at), max(at))
    return moves


def _lines(
    seen: Sequence[Observation],
    scenario: Scenario,
    window: Window,
    after: Catalogue,
    left_out: Sequence[float],
) -> list[TrialLine]:
    lines = []
    for each, held in zip(seen, left_out, strict=True):
        part = part_amounts(scenario, after, dict(each.trial.formula), window.over)
        name = "solid fat" if each.kind == "drop point" else "firmness"
        value = blend_value(PROPERTIES[name], part, each.at, after).value
        lines.append(
            TrialLine(
                trial=each.trial.name,
                made_from=each.trial.made_from,
                kind=each.kind,
                observed=_observed(each),
                at=each.at,
                low=each.low,
                high=each.high,
                before=each.model,
                after=math.nan if value is None else value,
                left_out=held if len(seen) > 1 and math.isfinite(held) else None,
            )
        )
    return lines


def _observed(each: Observation) -> str | float:
    trial = each.trial
    if each.kind == "verdict":
        return trial.verdict or ""
    read = trial.drop_point if each.kind == "drop point" else trial.penetration
    return math.nan if read is None else read


def _shifts(
    keys: Sequence[str],
    shift: Shift,
    window: Window,
    catalogue: Catalogue,
    after: Catalogue,
) -> list[IngredientShift]:
    at = 25.0 if window.at is None else window.at
    found = []
    for index, key in enumerate(keys):
        old = figure(catalogue, "firmness", key, at)
        new = figure(after, "firmness", key, at)
        if old is None or new is None:
            continue
        found.append(
            IngredientShift(
                ingredient=key,
                name=catalogue.ingredients[key].name,
                by=float(shift.values[index]),
                doubt=float(shift.doubt[index]),
                support=float(shift.support[index]),
                at=at,
                before=old.value,
                after=new.value,
            )
        )
    return sorted(found, key=lambda each: -each.support)


def _base(scenario: Scenario, catalogue: Catalogue, window: Window) -> Blend | None:
    """Return the firmness of the scenario's base where its window is; None without."""
    base: Mapping[str, float] = scenario.base
    if not base or window.at is None:
        return None
    part = part_amounts(scenario, catalogue, dict(base), window.over)
    return blend_value(PROPERTIES["firmness"], part, window.at, catalogue)
