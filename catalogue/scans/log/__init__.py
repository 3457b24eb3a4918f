"""Frame logs and tracks brought to the frames."""
