"""Latchbook: find the fix, walk it, log it, and look back, for a county elections office."""

__version__ = "0.5.0"
