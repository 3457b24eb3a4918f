"""The book of a binder and the finding aid."""
