"""Paper sizes and label sheets in millimetres (pure)."""
