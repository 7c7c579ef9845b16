"""Calibration: a maker's own trials shift the model of firmness."""

from optimiser.studies.calibration.calibrate import Calibration, calibrate

__all__ = ["Calibration", "calibrate"]
