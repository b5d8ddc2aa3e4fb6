"""Hypothesis profiles: `default` draws the same examples on every run, HYPOTHESIS_PROFILE=long many new ones."""

import os

from hypothesis import HealthCheck, settings

settings.register_profile("default", derandomize=True, deadline=None, database=None)
settings.register_profile(
    "long",
    max_examples=int(os.environ.get("HYPOTHESIS_EXAMPLES", "2000")),
    deadline=None,
    database=None,
    print_blob=True,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "default"))
