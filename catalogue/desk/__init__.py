"""The print desk: papers in the house, what waits to be printed, and what was printed last."""
