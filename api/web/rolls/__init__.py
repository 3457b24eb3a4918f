"""Web pages: rolls, binders and frames."""
