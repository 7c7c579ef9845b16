"""Trade-offs: what more of one aim costs in another, as a curve."""

from optimiser.studies.tradeoff.axes import Axis, axes_of
from optimiser.studies.tradeoff.curve import BreakPoint, Step, Tradeoff, tradeoff

__all__ = ["Axis", "BreakPoint", "Step", "Tradeoff", "axes_of", "tradeoff"]
