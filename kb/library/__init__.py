"""Know it: articles, the words callers use, local rules; read, check and render them."""
