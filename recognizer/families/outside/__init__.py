"""The outside of the part where it is not a plain block: contoured outlines."""
