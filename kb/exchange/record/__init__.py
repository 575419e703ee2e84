"""The record as a zip: what goes in, what may be public, and how it is checked without us."""
