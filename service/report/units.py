"""Lengths and feeds as a sheet shows them: mm, or inches."""

from __future__ import annotations

from dataclasses import dataclass

MM_PER_INCH = 25.4
"""Exact: ISO 31-1 and the international yard and pound agreement."""


@dataclass(frozen=True)
class Units:
    """name: mm or in. decimals: of lengths."""

    name: str
    decimals: int

    def length(self, mm: float | None) -> str:
        """A length without its unit; '-' for none."""
        if mm is None:
            return "-"
        value = mm if self.name == "mm" else mm / MM_PER_INCH
        text = f"{value:.{self.decimals}f}"
        text = text.rstrip("0").rstrip(".") if self.name == "mm" and "." in text else text
        return text.removeprefix("-") if float(text or 0) == 0 else text

    def feed(self, mm_a_minute: float) -> str:
        """A feed in mm/min or in/min."""
        return f"{mm_a_minute:.0f}" if self.name == "mm" else f"{mm_a_minute / MM_PER_INCH:.1f}"

    def size(self, mm: tuple[float, ...] | list[float]) -> str:
        """Lengths with x between them, and the unit."""
        return " x ".join(self.length(v) for v in mm) + f" {self.name}"


MM = Units("mm", 2)
INCH = Units("in", 4)


def minutes(value: float) -> str:
    """Minutes as a shop says them."""
    if value < 90:
        return f"{value:.1f} min"
    return f"{int(value // 60)} h {round(value % 60)} min"
