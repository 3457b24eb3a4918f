"""Picture files read: their facts, previews and fingerprints."""
