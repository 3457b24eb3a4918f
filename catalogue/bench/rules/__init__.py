"""The arithmetic of the sink: dilutions, tanks, figures and cautions (pure)."""
