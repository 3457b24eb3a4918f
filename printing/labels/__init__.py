"""Labels on sheets by measure."""
