"""The front doors: command line and worker processes."""
