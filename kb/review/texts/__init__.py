"""How articles and trees did: how often a fix followed, where walks end and turn back."""
