"""Pictures of a plan, as SVG text."""
