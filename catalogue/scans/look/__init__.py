"""How a scan is shown, as a positive and the right way up, and found again by its picture."""
