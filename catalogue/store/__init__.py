"""The database: tables, engine, migrations and the full-text index."""
