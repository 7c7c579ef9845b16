"""Tests; what is read before the first of them loads numpy."""

import os

# As the command line does: threads for small matrices cost processes that have a core
# each half of their time.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
