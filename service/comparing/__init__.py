"""Two features documents and their plans -> what changed. Reads documents only: no kernel, no rule, no recipe."""

from service.comparing.report import compare

__all__ = ["compare"]
