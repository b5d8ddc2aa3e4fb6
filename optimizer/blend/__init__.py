"""One batch: rules as rows, solve, predict, tighten, explain."""
