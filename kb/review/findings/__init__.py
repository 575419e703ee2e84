"""What stands out in an election, in words: beyond chance, and on record."""
