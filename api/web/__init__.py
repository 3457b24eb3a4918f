"""Web pages, one file a noun."""
