"""The turned part from its drawing: STEP, DXF or a shape with a few dimensions, as one half section."""
