"""What the commands print, one module for each kind of answer."""
