"""Storage bottles with their ledgers."""
