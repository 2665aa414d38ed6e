"""What to measure, and what is assumed: odds beside the verdict, which they never change."""
