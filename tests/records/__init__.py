"""The store on both databases, and what it withstands."""
