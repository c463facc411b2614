"""Chamfers and edge rounds: recognised first and set aside, so that the sharp neighbours meet."""
