"""The invented county: an election day in progress, built from the data in `demo/`."""
