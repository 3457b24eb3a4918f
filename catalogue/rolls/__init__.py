"""Rolls, from the number to the slot: registered, filed, moved, found, read and changed."""
