"""Word-address lathe programs that bore jaws: write, read back, prove."""
