"""Numbers, directions and tables in the words and units of the part's file."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterable, Sequence

from rich.console import Console
from rich.table import Table
from rich.text import Text

from shared.units import Vector, inches

WIDTH = 100
NARROWEST = 80  # on a narrower terminal lines run over, which reads better than cells cut to four letters
_AXES = "xyz"
_COUNTS = ("count", "sides", "islands", "turns", "number")


class _Out(Console):
    def on_broken_pipe(self) -> None:
        raise BrokenPipeError  # `| head` is no failure; service/errors.py ends quietly


def console() -> Console:
    """Standard output, 80 to 100 columns, colours only on a terminal and not where NO_COLOR is set."""
    plain = Console(highlight=False)
    width = min(max(plain.width, NARROWEST), WIDTH) if plain.is_terminal else WIDTH
    return _Out(width=width, highlight=False, soft_wrap=False)


def number(value: float, decimals: int = 3) -> str:
    """A number without trailing zeros: 12, 8.5, 0.125."""
    text = f"{value:.{decimals}f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


class Lengths:
    """Lengths in the unit of the part's file: inch models are shown in inches, all others in mm."""

    def __init__(self, unit: str) -> None:
        self.inch = unit.lower() in ("inch", "in")
        self.unit = "in" if self.inch else "mm"

    def __call__(self, mm: float) -> str:
        """A length with up to 2 decimals of a mm or 4 of an inch, without its unit."""
        return number(inches(mm), 4) if self.inch else number(mm, 2)

    def volume(self, mm3: float) -> str:
        """A volume with its unit."""
        return f"{mm3 / 25.4**3:,.3f} in3" if self.inch else f"{mm3 / 1000:,.2f} cm3"

    def dimensions(self, values: dict[str, float]) -> str:
        """'diameter 8.5, depth 12, tip_angle 118 deg': lengths in the part's unit, angles in degrees, counts plain."""
        pieces = []
        for name, value in values.items():
            words = name.replace("_", " ")
            if "angle" in name or name == "draft":
                pieces.append(f"{words} {number(value, 2)} deg")
            elif name.endswith(_COUNTS) or "area" in name or "volume" in name:
                pieces.append(f"{words} {number(value, 2)}")
            else:
                pieces.append(f"{words} {self(value)}")
        return ", ".join(pieces)


def direction(d: Sequence[float]) -> str:
    """'+z' along an axis, else '(0, 0.707, 0.707)'."""
    for axis, value in zip(_AXES, d, strict=True):
        if abs(abs(value) - 1) < 1e-6:
            return ("+" if value > 0 else "-") + axis
    return "(" + ", ".join(number(v) for v in d) + ")"


def directions(ds: Iterable[Vector]) -> str:
    """Directions in a fixed order, main axes first, each once."""
    return " ".join(
        sorted(dict.fromkeys(direction(d) for d in ds), key=lambda s: (s.startswith("("), s[1:], s[0] == "-"))
    )


def minutes(value: float) -> str:
    """'4.2 min', '1 h 05 min'."""
    if value < 60:
        return f"{value:.1f} min"
    whole = math.floor(value + 0.5)
    return f"{whole // 60} h {whole % 60:02d} min"


def table(*columns: str, right: Sequence[str] = (), widest: dict[str, int] | None = None) -> Table:
    """A table without frames. Columns named in `right` stand flush right; those in `widest` wrap at so many columns."""
    made = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim", show_edge=False)
    for name in columns:
        width = (widest or {}).get(name)
        made.add_column(name, justify="right" if name in right else "left", no_wrap=width is None, max_width=width)
    return made


def aligned(rows: Sequence[Sequence[str]], width: int, right: Sequence[int] = ()) -> list[str]:
    """Rows as lines of at most `width`, columns two blanks apart; the widest columns give way, cut cells end in '..'."""
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    while sum(widths) + 2 * (len(widths) - 1) > width:
        widths[widths.index(max(widths))] -= 1
    lines = []
    for row in rows:
        cells = [c if len(c) <= w else c[: w - 2] + ".." for c, w in zip(row, widths, strict=True)]
        placed = [c.rjust(w) if k in right else c.ljust(w) for k, (c, w) in enumerate(zip(cells, widths, strict=True))]
        lines.append("  ".join(placed).rstrip())
    return lines


def paragraph(out: Console, text: str, first: str = "", rest: str | None = None, style: str = "") -> None:
    """Prints text wrapped to the width, `first` before its first line and `rest` (blanks) before the others."""
    indent = " " * len(first) if rest is None else rest
    wrapped = textwrap.fill(text, out.width, initial_indent=first, subsequent_indent=indent, break_on_hyphens=False)
    out.print(Text(wrapped, style=style))


def shortened(texts: Sequence[str], width: int) -> str:
    """The first reason, cut at a word where it is too long, with how many more there are."""
    if not texts:
        return ""
    more = f" (+{len(texts) - 1})" if len(texts) > 1 else ""
    return textwrap.shorten(texts[0], max(10, width - len(more)), placeholder=" ...") + more


def heading(text: str) -> Text:
    """A heading line."""
    return Text(text, style="bold")
