"""How many examples a property test draws: its own number in every run, many times that in a long one."""

import os

IS_LONG = os.environ.get("HYPOTHESIS_PROFILE") == "long"
EXAMPLES = int(os.environ.get("HYPOTHESIS_EXAMPLES", "2000")) if IS_LONG else 100


def examples(usual: int) -> int:
    """`usual` where a property without a number of its own draws 100; in proportion where it draws more."""
    return max(1, usual * EXAMPLES // 100)
