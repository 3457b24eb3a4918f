"""Kinds of print on label sheets, and what is cut out: labels, numbers, tags, spines and slips."""
