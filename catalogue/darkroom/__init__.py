"""Under the enlarger: print records of frames and times reckoned from them."""
