"""Measurements against labelled parts and against the kernel's own read: commands, not timed tests."""
