"""Access: which faces a cutter gets to, from which side, and what is in the way. `reach` is the door."""

from recognizer.access.pipeline import features_and_reach, reach, reach_of_snapshot

__all__ = ["features_and_reach", "reach", "reach_of_snapshot"]
