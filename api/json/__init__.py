"""JSON routes, one file a noun."""
