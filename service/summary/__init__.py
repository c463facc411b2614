"""Documents as people read them: tables and lines of at most 100 columns."""
