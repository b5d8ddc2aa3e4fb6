"""Linear programs as data: solve, certify, range, explain. Knows no fruit."""

from .arrays import LiveSolver, solve_arrays
from .certificate import Certificate, certify
from .draws import Answers, Draws
from .highs import use_threads
from .infeasible import Elastic, Side, clashing_rows, clashing_sides, elastic, least_relief, relieved
from .program import LinearProgram, Outcome, Status
from .pulp_route import solve
from .ranging import Ranges, ranging
from .sweep import solve_draws, solve_prices

__all__ = [
    "Answers",
    "Certificate",
    "Draws",
    "Elastic",
    "LinearProgram",
    "LiveSolver",
    "Outcome",
    "Ranges",
    "Side",
    "Status",
    "certify",
    "clashing_rows",
    "clashing_sides",
    "elastic",
    "least_relief",
    "ranging",
    "relieved",
    "solve",
    "solve_arrays",
    "solve_draws",
    "solve_prices",
    "use_threads",
]
