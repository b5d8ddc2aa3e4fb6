"""Linear programs as data: solve, certify, range, explain. Knows no fruit."""

from .arrays import solve_arrays
from .certificate import Certificate, certify
from .highs import use_threads
from .program import LinearProgram, Outcome, Status
from .pulp_route import solve

__all__ = ["Certificate", "LinearProgram", "Outcome", "Status", "certify", "solve", "solve_arrays", "use_threads"]
