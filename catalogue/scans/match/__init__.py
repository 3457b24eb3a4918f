"""Which file shows which frame: proposed, settled and approved."""
