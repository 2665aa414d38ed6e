"""The comparison with a general-purpose 3-D finite element code, CalculiX: meshes, decks, runs and tables."""
