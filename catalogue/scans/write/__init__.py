"""What is written beside the scans on request: sidecars and names."""
