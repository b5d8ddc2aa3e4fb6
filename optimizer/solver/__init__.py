"""Linear programs as data: solve, certify, range, explain. Knows no fruit."""

from .arrays import LiveSolver, solve_arrays
from .certificate import Certificate, certify
from .draws import Answers, Draws
from .entering import Entered, entered
from .highs import use_threads
from .infeasible import Elastic, Side, clashing_rows, clashing_sides, elastic, least_relief, relieved
from .program import LinearProgram, Outcome, Status
from .pulp_route import solve
from .ranging import Ranges, Tableau, ranging, tableau
from .sweep import solve_draws, solve_prices

__all__ = [
    "Answers",
    "Certificate",
    "Draws",
    "Elastic",
    "Entered",
    "LinearProgram",
    "LiveSolver",
    "Outcome",
    "Ranges",
    "Side",
    "Status",
    "Tableau",
    "certify",
    "clashing_rows",
    "clashing_sides",
    "elastic",
    "entered",
    "least_relief",
    "ranging",
    "relieved",
    "solve",
    "solve_arrays",
    "solve_draws",
    "solve_prices",
    "tableau",
    "use_threads",
]
