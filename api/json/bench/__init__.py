"""JSON routes: the bench."""
