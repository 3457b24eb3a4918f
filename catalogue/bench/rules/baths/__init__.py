"""Baths and bottles: their ledger, capacity and cost (pure)."""
