"""How likely each check goes wrong, beside the worst case that decides, and what a measurement would change."""
