"""The domain: film, sleeve pages, the store and the operations on it."""
