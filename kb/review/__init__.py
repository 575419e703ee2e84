"""What the record adds up to: counts, rates with their limits, and words for too few to say."""
