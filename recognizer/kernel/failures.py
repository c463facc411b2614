"""What the kernel raises: its exceptions share no base in Python but Exception itself."""

from __future__ import annotations

from OCP import Standard, StdFail

KERNEL_FAILURES: tuple[type[Exception], ...] = tuple(
    kind
    for module in (Standard, StdFail)
    for kind in vars(module).values()
    if isinstance(kind, type) and issubclass(kind, Exception)
)
"""Every exception of the kernel, to be caught by name."""
