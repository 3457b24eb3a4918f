"""Every kind of print: one file a kind, with what is asked for, its names and doors, and how it is drawn."""
