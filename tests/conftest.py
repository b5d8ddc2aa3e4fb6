"""Hypothesis profiles: `default` draws the same examples on every run, HYPOTHESIS_PROFILE=long many new ones."""

from how_many import EXAMPLES, IS_LONG
from hypothesis import HealthCheck, settings

settings.register_profile("default", derandomize=True, deadline=None, database=None)
settings.register_profile(
    "long",
    max_examples=EXAMPLES,
    deadline=None,
    database=None,
    print_blob=True,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("long" if IS_LONG else "default")
