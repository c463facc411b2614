"""Standards' tables as CSV, one file a source, and their typed look-ups in load.py."""
