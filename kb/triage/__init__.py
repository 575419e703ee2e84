"""Walk it: trees of questions and fixes, read, checked, and walked by replaying answers."""
