"""Linear programs as data: solve, certify, range, explain. Knows no fruit."""
