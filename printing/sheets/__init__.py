"""Single sheets and cards."""
