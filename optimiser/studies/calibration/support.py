"""How much a set of trials supports a calibration, in counts a maker can check."""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Sequence

from msgspec import Struct

from optimiser.science.fitting import Shift
from optimiser.studies.calibration.observations import Observation

__all__ = ["FEWEST", "AtOdds", "Support", "support_of"]

# Fewer bars judged than this teach nothing that a single odd bar could not undo.
FEWEST = 3
GOOD, FORMULAS = 8, 3
# A verdict is met when the model lies within so many points of its side.
MET = 0.5
# Share of one curve's variance that must be gone for the trials to have said much.
LEARNT = 0.2
# Of what was seen: with a larger part unexplained no figure is moved.
UNEXPLAINED = 1.0 / 3.0


class Judged(Struct, frozen=True):
    """What a bar was found to be in a room, deg C."""

    trial: str
    at: float
    verdict: str


class AtOdds(Struct, frozen=True):
    """Two verdicts on one formula that cannot both hold; the cooler one first."""

    cool: Judged
    warm: Judged


class Support(Struct, frozen=True):
    """What the trials bear: "too few", "not explained", "thin" or "fair", and why.

    ``bars`` counts the trials that could be used. ``before`` and ``left_out`` count the
    observations that the published figures, and the calibrated ones without that
    observation, get right.
    """

    level: str
    observations: int
    bars: int
    formulas: int
    temperatures: int
    before: int
    left_out: int
    learnt: float
    reasons: tuple[str, ...]
    contradictions: tuple[AtOdds, ...]


def support_of(
    seen: Sequence[Observation],
    shift: Shift,
    left_out: Sequence[float],
    unexplained: int = 0,
) -> Support:
    """Return how much observations support the shift they led to.

    Parameters
    ----------
    seen : sequence of Observation
    shift : Shift
        The fit to all of them.
    left_out : sequence of float, as long as ``seen``
        What the others predict of each, [points].
    unexplained : int
        How many the figures cannot explain.
    """
    bars = len({each.trial.origin for each in seen})
    formulas = len({tuple(sorted(each.trial.formula.items())) for each in seen})
    temperatures = len({round(each.at) for each in seen})
    before = sum(_met(each, each.model) for each in seen)
    held = sum(_met(each, p) for each, p in zip(seen, left_out, strict=True))
    learnt = float(shift.support.max(initial=0.0))
    few = bars < FEWEST or learnt < LEARNT
    reasons = _reasons(seen, (bars, formulas, temperatures), learnt)
    if bars >= FEWEST and held < before:
        reasons.append(
            "trials left out in turn are foretold worse than by the published"
            f" figures ({held} right instead of {before} of {len(seen)})"
        )
    level = "too few" if few else "thin" if reasons else "fair"
    if not few and unexplained > UNEXPLAINED * len(seen):
        level = "not explained"
    return Support(
        level=level,
        observations=len(seen),
        bars=bars,
        formulas=formulas,
        temperatures=temperatures,
        before=before,
        left_out=held,
        learnt=learnt,
        reasons=tuple(reasons),
        contradictions=tuple(_contradictions(seen, shift)),
    )


def _met(each: Observation, value: float) -> bool:
    slack = MET if each.kind == "verdict" else each.noise
    return each.low - slack <= value <= each.high + slack


def _reasons(
    seen: Sequence[Observation], counts: tuple[int, int, int], learnt: float
) -> list[str]:
    """Return why the trials bear less than they might."""
    bars, formulas, temperatures = counts
    reasons = []
    if bars < GOOD:
        reasons.append(f"{bars} usable trials; {GOOD} or more are a fair base")
    if formulas < FORMULAS:
        made = "1 formula" if formulas == 1 else f"{formulas} formulas"
        reasons.append(
            f"only {made}: which ingredient is off cannot be told apart, so the shift"
            " is shared out by their published spreads"
        )
    if seen and temperatures < 2:
        reasons.append("only one temperature: how the bar softens was not seen")
    verdicts = {each.trial.verdict for each in seen if each.kind == "verdict"}
    if len(verdicts) == 1 and all(each.kind == "verdict" for each in seen):
        reasons.append(
            f"every verdict is '{verdicts.pop()}': also make one that should be too"
            " soft and one that should be too hard"
        )
    if seen and learnt < LEARNT:
        reasons.append(
            "no ingredient's figure became much surer: use more of what is in doubt"
        )
    return reasons


def _judged(each: Observation) -> Judged:
    return Judged(each.trial.name, each.at, each.trial.verdict or "")


def _contradictions(seen: Sequence[Observation], shift: Shift) -> list[AtOdds]:
    """Return pairs of verdicts on one formula that cannot both hold."""
    if not shift.values.size:
        return []
    order = {"too soft": 0, "right": 1, "too hard": 2}
    found = []
    verdicts = [each for each in seen if each.kind == "verdict"]
    formulas = [frozenset(each.trial.formula.items()) for each in verdicts]
    alike: dict[object, deque[Observation]] = defaultdict(deque)
    for formula, each in zip(formulas, verdicts, strict=True):
        alike[formula].append(each)
    for formula in formulas:
        first = alike[formula].popleft()
        for second in alike[formula]:  # those of its formula that come after it
            cool, warm = sorted((first, second), key=lambda each: each.at)
            firmer = order[warm.trial.verdict or ""] > order[cool.trial.verdict or ""]
            clash = warm.trial.verdict != cool.trial.verdict and warm.at == cool.at
            if firmer or clash:
                found.append(AtOdds(_judged(cool), _judged(warm)))
    return found
