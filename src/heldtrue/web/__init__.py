"""Pages in a browser, served from the user's own machine: the services of the command line, one page a question."""
