"""Web pages: paper."""
