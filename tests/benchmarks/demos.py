"""The demos, and the arrays of one as a file that any script can load."""

from pathlib import Path

import numpy as np

from optimiser import read_scenario
from optimiser.rules import build
from optimiser.solving.arrays import Arrays, dense

__all__ = ["ROOT", "SCENARIOS", "saved"]

ROOT = Path(__file__).resolve().parents[2]
SCENARIOS = sorted((ROOT / "scenarios").glob("*.toml"))


def saved(path, folder):
    """Write the arrays of a demo's first aim; return their file."""
    programme = build(*read_scenario(path))
    arrays = Arrays.of(programme)
    file = folder / f"{path.stem}.npz"
    np.savez(
        file,
        cost=dense(programme.goals[0], arrays.lower.size),
        lower=arrays.lower,
        upper=arrays.upper,
        row_lower=arrays.row_lower,
        row_upper=arrays.row_upper,
        starts=arrays.starts.astype(np.int32),
        columns=arrays.columns.astype(np.int32),
        values=arrays.values,
        whole=arrays.whole,
    )
    return file
