"""How long each step takes: temperature, push, use and drift (pure)."""
