"""The plan page: the form on one side, the answer with what can be touched on the other."""
