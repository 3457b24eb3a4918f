"""Kinds of print on plain sheets: contact sheets, index labels, strip lists and cards."""
