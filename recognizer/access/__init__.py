"""Access: which faces a cutter gets to, from which side, and what is in the way. `reach_of_snapshot` is the door."""
