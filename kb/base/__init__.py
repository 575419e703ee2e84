"""What every other package stands on: errors, time, ids, settings, the database file."""
