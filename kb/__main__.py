"""`python -m kb` is `latchbook`."""

from kb.cli import main

main(prog_name="latchbook")
