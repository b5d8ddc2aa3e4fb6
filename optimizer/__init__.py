"""Least-cost recipes for fruit preserves: inputs, physics, blend model, reasons. Start reading at `blend/rules.py`."""

__version__ = "0.1.0"
