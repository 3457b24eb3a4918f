"""JSON routes: paper."""
