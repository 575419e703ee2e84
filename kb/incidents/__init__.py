"""The record of a day: typed events, an append-only ledger, and incidents as its fold."""
