"""The shop's hardware: what a chuck, its actuator and its jaws can do."""
