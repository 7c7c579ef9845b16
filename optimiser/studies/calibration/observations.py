"""Trials as bounds on a property of the model, each with what it can teach."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import Origin
from optimiser.domain.properties import PROPERTIES
from optimiser.domain.scenario import Scenario, Window
from optimiser.domain.trial import Trial
from optimiser.errors import InputError, Problem
from optimiser.rules import part_amounts
from optimiser.science.fitting import least_squares
from optimiser.science.mixing import blend_value
from optimiser.science.stiffening import stiffening
from optimiser.studies.calibration.shifts import half_spread

__all__ = [
    "DROP",
    "DROP_SOLIDS",
    "THUMB",
    "Observation",
    "as_the_base",
    "holds_by_wax",
    "no_target",
    "observations",
    "steps_of",
    "target",
]

Bounds = tuple[float, float, float]  # low, high, standard deviation

# Points of firmness by which a verdict by thumb may be off, and of solid fat by
# which a drop point may be.
THUMB, DROP = 5.0, 4.0
# A fat slips where about 3 to 5 % of it is solid.
DROP_SOLIDS = (3.0, 5.0)
# Wax holds a drop point up that the fat would have let go, from this share of lipids.
LITTLE_WAX = 0.5
FEWEST_NEEDLES = 4


class Observation(Struct, frozen=True):
    """One thing seen: the property lies between ``low`` and ``high``, in points.

    ``steps`` is by ingredient how far the property moves for one step of its curve;
    ``model`` is the property before any step; ``noise`` its standard deviation.
    """

    trial: Trial
    kind: str
    at: float
    model: float
    low: float
    high: float
    noise: float
    steps: Mapping[str, float]


def target(scenario: Scenario) -> Window | None:
    """Return the window on firmness that says what "right" is; None without one."""
    for window in scenario.windows:
        if window.property == "firmness":
            return _eased(window, scenario)
    return None


def _eased(window: Window, scenario: Scenario) -> Window:
    """Return a window with the limits that its scenario eases it to."""
    low, high = (
        scenario.eased.get(window.rule_id(side), (limit,))[0]
        if limit is not None
        else None
        for side, limit in (("min", window.low), ("max", window.high))
    )
    return replace(window, low=low, high=high)


def no_target(scenario: Scenario) -> InputError:
    """Return that nothing says what "right" is, and that verdicts would."""
    fix = (
        "judge three bars or more, one of them right, and a window is proposed; or add"
        ' [[windows]] with property = "firmness", at = "25 degC", over = "lipids",'
        " min and max: the firmness that feels right"
    )
    wrong = "has no window on firmness, so nothing says what 'right' is"
    return InputError([Problem(wrong, scenario.file, field="windows", fix=fix)])


def steps_of(
    part: Mapping[str, float], name: str, at: float, catalogue: Catalogue
) -> dict[str, float]:
    """Return by ingredient how far a property moves for one step of its curve.

    Parameters
    ----------
    part : mapping of ingredient key to percent
    name : str
        "firmness" or "solid fat".
    at : float
        Temperature, [deg C].
    """
    total = sum(part.values())
    halves = {key: half_spread(catalogue, key, name, at) for key in part}
    return {key: part[key] / total * half for key, half in halves.items() if half}


def as_the_base(
    formula: Mapping[str, float], scenario: Scenario, catalogue: Catalogue
) -> float:
    """Return how many times firmer its grains make a bar feel than the base's do.

    A thumb feels the finished bar, and what is right was written for the base's grains
    (`science.stiffening`). 1 where there is no base.
    """
    if not scenario.base:
        return 1.0
    base = stiffening(scenario.base, catalogue)
    return stiffening(formula, catalogue) / base


def holds_by_wax(part: Mapping[str, float], catalogue: Catalogue) -> bool:
    """Whether wax, not fat, would hold the drop point of some lipids up."""
    kinds = catalogue.ingredients
    wax = sum(p for key, p in part.items() if kinds[key].category == "wax")
    return 100.0 * wax > LITTLE_WAX * sum(part.values())


class NoFigure(Struct, frozen=True):
    """A property that is known of a formula at no such temperature, deg C.

    ``lacking`` are the names of what has no figure; none where nothing in it counts.
    """

    property: str
    at: float
    lacking: tuple[str, ...]


class PassedOver(Struct, frozen=True):
    """A trial that says nothing, where it is written, and why."""

    trial: str
    origin: Origin
    why: str | NoFigure


class _Sight:
    """What is asked and known, and what has been seen so far."""

    def __init__(
        self, scenario: Scenario, catalogue: Catalogue, window: Window
    ) -> None:
        self.scenario, self.catalogue = scenario, catalogue
        self.window = window
        self.seen: list[Observation] = []
        self.unused: list[PassedOver] = []

    def pass_over(self, trial: Trial, why: str | NoFigure) -> None:
        """Keep in mind that a trial says nothing, and why."""
        self.unused.append(PassedOver(trial.name, trial.origin, why))

    def part(self, trial: Trial) -> dict[str, float]:
        """Return the ingredients that the window is over, [%]."""
        over = self.window.over
        return part_amounts(self.scenario, self.catalogue, dict(trial.formula), over)

    def of(
        self,
        trial: Trial,
        kind: str,
        part: Mapping[str, float],
        at: float,
        bounds: Bounds,
    ) -> Observation | None:
        """Return what a trial shows of a property; None after saying what lacks."""
        name = "solid fat" if kind == "drop point" else "firmness"
        blend = blend_value(PROPERTIES[name], part, at, self.catalogue)
        if blend.value is None:
            self.pass_over(trial, NoFigure(name, at, tuple(blend.missing)))
            return None
        steps = steps_of(part, name, at, self.catalogue)
        low, high, noise = bounds
        return Observation(trial, kind, at, blend.value, low, high, noise, steps)

    def add(self, found: Observation | None) -> None:
        """Add an observation, unless nothing in its formula could move."""
        if found is None:
            return
        if found.steps:
            self.seen.append(found)
        else:
            why = "nothing in it is partly solid there, so no figure could move"
            self.pass_over(found.trial, why)


def observations(
    trials: Sequence[Trial],
    scenario: Scenario,
    catalogue: Catalogue,
    window: Window | None = None,
) -> tuple[tuple[Observation, ...], tuple[PassedOver, ...]]:
    """Return what the trials say, and why some say nothing.

    Parameters
    ----------
    trials : sequence of Trial
    scenario : Scenario
        Its window on firmness says what "right" is, at whatever temperature: a bar
        feels right when it is as firm as that.
    window : Window, optional
        Says so in its place.

    Raises
    ------
    InputError
        If there is neither.
    """
    asked = window or target(scenario)
    if asked is None:
        raise no_target(scenario)
    sight = _Sight(scenario, catalogue, asked)
    for trial in trials:
        _verdict(sight, trial)
        _drop_point(sight, trial)
    _needles(sight, trials)
    return tuple(sight.seen), tuple(sight.unused)


def _verdict(sight: _Sight, trial: Trial) -> None:
    """Add what a verdict says: firmness below, within or above the window."""
    if trial.verdict is None or trial.room is None:
        return
    low, high = sight.window.low, sight.window.high
    sides = {
        "too soft": (-math.inf, low),
        "right": (
            -math.inf if low is None else low,
            math.inf if high is None else high,
        ),
        "too hard": (high, math.inf),
    }
    least, most = sides[trial.verdict]
    if least is None or most is None:
        side = "min" if trial.verdict == "too soft" else "max"
        why = f"the window on firmness has no {side}, so '{trial.verdict}' says nothing"
        sight.pass_over(trial, why)
        return
    # What its grains add is taken off the limits: the model speaks of the lipids.
    times = as_the_base(trial.formula, sight.scenario, sight.catalogue)
    bounds = (least / times, most / times, THUMB / times)
    part = sight.part(trial)
    sight.add(sight.of(trial, "verdict", part, trial.room, bounds))


def _drop_point(sight: _Sight, trial: Trial) -> None:
    """Add what a drop point says: so much solid fat there."""
    if trial.drop_point is None:
        return
    part = sight.part(trial)
    if holds_by_wax(part, sight.catalogue):
        why = "wax, not fat, holds its drop point up: not used; a verdict would be"
        sight.pass_over(trial, why)
        return
    bounds = (*DROP_SOLIDS, DROP)
    sight.add(sight.of(trial, "drop point", part, trial.drop_point, bounds))


def _needles(sight: _Sight, trials: Sequence[Trial]) -> None:
    """Add what penetrations say, once the maker's own needle has been learnt.

    Notes
    -----
    The logarithm of the depth falls in a straight line with firmness; the line is
    fitted to the trials themselves, so penetrations tell bars apart but not how firm
    all of them are.
    """
    found: list[Observation] = []
    for trial in trials:
        if trial.penetration is None or trial.room is None:
            continue
        part = sight.part(trial)
        each = sight.of(trial, "penetration", part, trial.room, (0.0, 0.0, THUMB))
        if each is not None:
            found.append(each)
    line = _line(found)
    if line is None:
        for each in found:
            why = (
                f"{len(found)} penetrations do not tell how deep this needle goes:"
                f" {FEWEST_NEEDLES} or more, of bars that clearly differ, would"
            )
            sight.pass_over(each.trial, why)
        return
    start, slope, error = line
    for each in found:
        told = (math.log(each.trial.penetration or 1.0) - start) / slope
        noise = max(THUMB, error / abs(slope))
        sight.add(replace(each, low=told, high=told, noise=noise))


def _line(found: Sequence[Observation]) -> tuple[float, float, float] | None:
    """Return start, slope (per point) and error of log depth; None if not to be had."""
    if len(found) < FEWEST_NEEDLES:
        return None
    design = np.array([[1.0, each.model] for each in found])
    depths = np.array([math.log(each.trial.penetration or 1.0) for each in found])
    try:
        fit = least_squares(design, depths)
    except ValueError:
        return None
    start, slope = (float(each) for each in fit.coefficients)
    return (start, slope, fit.error) if slope < -1e-3 else None
