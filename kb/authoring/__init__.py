"""What a county makes of the library: edits with a second reader, answers, phrases it learns."""
