"""The tables of the methods, as pages, report and files show them."""
