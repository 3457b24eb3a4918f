"""JSON routes: rolls, binders and frames."""
