"""Web pages: the bench."""
