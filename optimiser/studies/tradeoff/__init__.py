"""Trade-offs: what more of one aim costs in another, as a curve."""

from optimiser.studies.tradeoff.axes import Axis, axes_of
from optimiser.studies.tradeoff.curve import Tradeoff, tradeoff
from optimiser.studies.tradeoff.points import BreakPoint, Step

__all__ = ["Axis", "BreakPoint", "Step", "Tradeoff", "axes_of", "tradeoff"]
