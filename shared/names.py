"""Names of files as documents can hold them."""

from __future__ import annotations


def readable(name: str) -> str:
    """A file's name whose bytes that are no UTF-8, which some disks and archives have, have become ?."""
    return name.encode("utf-8", "replace").decode()
