"""One module a step, numbered."""
