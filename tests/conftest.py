"""How much Hypothesis tries: a little at the desk, more when asked to be thorough."""

import os

from hypothesis import settings

settings.register_profile("desk", max_examples=50, deadline=None)
settings.register_profile(
    "thorough", max_examples=500, deadline=None, derandomize=True, print_blob=True
)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "desk"))
