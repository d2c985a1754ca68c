"""The log: its records, its file, salvage, replay and import."""
