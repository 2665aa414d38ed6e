"""The shop's setups planned again when what they rest on has changed: which turn, and why."""
