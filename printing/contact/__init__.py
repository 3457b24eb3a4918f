"""Contact sheets at true size or enlarged."""
