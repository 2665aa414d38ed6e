"""One setup in, one plan out: the setup file, the checks, the pressure window and the comparison."""
