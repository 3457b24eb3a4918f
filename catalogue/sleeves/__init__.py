"""Sleeve pages in millimetres: layouts, cut plans, page plans, addresses (pure)."""
