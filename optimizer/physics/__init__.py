"""Physics and chemistry of preserves: floats or numpy arrays in and out; knows nothing of lots or recipes."""
