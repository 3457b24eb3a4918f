"""An invented archive to look at: its scenario, its pictures and what builds it."""
