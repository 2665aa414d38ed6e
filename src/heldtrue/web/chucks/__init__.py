"""The chucks: plate, gauge log and grease."""
