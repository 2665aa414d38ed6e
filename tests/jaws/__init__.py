"""A second, plain model of jaws that turn, and what it says about the answers."""
