"""Whether all is scanned, and the files are still as they were."""
