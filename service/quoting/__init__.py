"""A plan and the shop's rates -> the quote document. Reads documents only."""

from service.quoting.quote import quote

__all__ = ["quote"]
