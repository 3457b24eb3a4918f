"""Image files tied to frames; files are read and never altered."""
