"""From a caller's words to the article to open, and the measurement of how well that works."""
