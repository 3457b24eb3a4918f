"""The print desk at the edge."""
