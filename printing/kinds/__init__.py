"""Every kind of print, declared once."""
