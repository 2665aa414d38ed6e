"""``python -m heldtrue`` is the command line."""

from heldtrue.cli import main

main()
