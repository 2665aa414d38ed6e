"""The part from its drawing: a file that is dropped or a shape, what it leaves open, and the setup that comes of it."""
