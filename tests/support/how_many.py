"""How many examples a property test draws: its own number in every run, many times that in a long one."""

import os

PROFILE = os.environ.get("HYPOTHESIS_PROFILE", "default")
EXAMPLES = {"long": int(os.environ.get("HYPOTHESIS_EXAMPLES", "2000")), "quick": 20}.get(PROFILE, 100)


def examples(usual: int) -> int:
    """`usual` where a property without a number of its own draws 100; in proportion where it draws more or fewer."""
    return max(1, usual * EXAMPLES // 100)
