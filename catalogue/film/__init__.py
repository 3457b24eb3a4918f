"""Film as an object: formats, frame and roll numbers, uncertain dates (pure)."""
