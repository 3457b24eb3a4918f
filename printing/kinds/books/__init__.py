"""Kinds of print on leaves that are bound: a binder's book and the finding aid."""
