"""What goes wrong while files are read must go wrong each time."""

import pytest


@pytest.fixture(scope="module")
def read_once():
    """Every catalogue is read anew."""
