"""Linear programs as data: solve, certify, range, explain. Knows no fruit."""

from .arrays import LiveSolver, solve_arrays
from .certificate import Certificate, certify
from .highs import use_threads
from .infeasible import Elastic, Side, clashing_rows, clashing_sides, elastic, least_relief, relieved
from .program import LinearProgram, Outcome, Status
from .pulp_route import solve
from .ranging import Ranges, ranging

__all__ = [
    "Certificate",
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
    "use_threads",
]
