"""What rises while the day goes on: same-fault alarms, their clusters, and what is watched."""
