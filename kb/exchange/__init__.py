"""Files in and out: the county's CSV tables, read and checked before anything is taken."""
