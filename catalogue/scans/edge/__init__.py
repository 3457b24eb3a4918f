"""What the edge of the film says."""
