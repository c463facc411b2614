"""Access: which faces a cutter gets to, from which side, and what is in the way. `reach` is the door."""

from recognizer.access.pipeline import reach, reach_of_snapshot

__all__ = ["reach", "reach_of_snapshot"]
