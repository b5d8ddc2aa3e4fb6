"""Hypothesis profiles, by HYPOTHESIS_PROFILE: `default` draws the same examples on every run, `quick` a fifth of them,
`long` many new ones."""

from how_many import EXAMPLES, PROFILE
from hypothesis import HealthCheck, settings

settings.register_profile("default", derandomize=True, deadline=None, database=None)
settings.register_profile("quick", max_examples=EXAMPLES, derandomize=True, deadline=None, database=None)
settings.register_profile(
    "long",
    max_examples=EXAMPLES,
    deadline=None,
    database=None,
    print_blob=True,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile(PROFILE)
