"""A session at the sink: planned, logged, and ended when the film hangs."""
