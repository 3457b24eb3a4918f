"""The tables, one file a moment."""
