"""The after-action report of an election: one file to print, and the bundle of its tables."""
