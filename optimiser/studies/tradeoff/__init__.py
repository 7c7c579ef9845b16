"""Trade-offs: what more of one aim costs in another, as a curve."""

from optimiser.studies.tradeoff.axes import Axis, axes_of
from optimiser.studies.tradeoff.curve import Point, Step, Tradeoff, tradeoff

__all__ = ["Axis", "Point", "Step", "Tradeoff", "axes_of", "tradeoff"]
