"""heldtrue: holding turned parts."""
