"""What people type, turned into a job: stock, threads. Mistakes are UsageErrors that show a right example."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from shared.errors import UsageError

STOCK_HINT = "Give one allowance (2), six as '-x,+x,-y,+y,-z,+z' ('2,2,2,2,0,3'), or the path of a STEP file."
THREAD_HINT = "Write the hole's diameter in mm, =, and the thread: --thread 10.2=M12 or --thread 9=M10x1."

VISE_HINT = "Write --vise opening=160,jaw_height=35,jaw_widths=80:125,least_grip=4 in mm, or the path of a vise file."
WEIGHTS_HINT = "Write prices of one each: --weights clampings=60,setups=20,tool_changes=0.3,minutes=1."

GOALS_HINT = "Name goals with commas, most important first: --goals setups,clampings,tool_changes,minutes."
HINTS = {"vise": VISE_HINT, "weights": WEIGHTS_HINT, "goals": GOALS_HINT}
"""Hints by the job's field."""


@dataclass(frozen=True)
class Asked:
    """The options of a job as they were typed."""

    stock: str = "2"
    axes: int | None = None
    material: str = "aluminium"
    tools: str = ""
    threads: tuple[str, ...] = ()
    machine: str = ""
    notes: str = ""
    vise: str = ""
    goals: str = ""
    weights: str = ""
    reach: bool = True


def stock_from(text: str) -> float | list[float] | str:
    """An allowance in mm, six of them, or the path of an existing STEP file. Raises UsageError."""
    numbers = _numbers(text)
    if numbers is None:
        if Path(text).is_file():
            return text
        raise UsageError(f"'{text}' is neither numbers nor a file that exists.", STOCK_HINT, "--stock")
    if len(numbers) not in (1, 6):
        raise UsageError(f"--stock has {len(numbers)} numbers.", STOCK_HINT, "--stock")
    if any(not 0 <= n <= 1000 for n in numbers):
        raise UsageError("A stock allowance must be between 0 and 1000 mm.", STOCK_HINT, "--stock")
    return numbers[0] if len(numbers) == 1 else numbers


def _numbers(text: str) -> list[float] | None:
    try:
        return [float(piece) for piece in text.split(",")]
    except ValueError:
        return None


def quantities_from(text: str) -> tuple[int, ...]:
    """'1,10,100' -> (1, 10, 100). Raises UsageError."""
    pieces = [piece.strip() for piece in text.split(",")]
    if not all(p.isascii() and p.isdigit() and 1 <= int(p) <= 1_000_000 for p in pieces) or len(pieces) > 12:
        raise UsageError(
            f"'{text}' are no quantities.", "Write whole numbers with commas: --quantities 1,10,100.", "--quantities"
        )
    return tuple(int(p) for p in pieces)


def threads_from(texts: list[str]) -> dict[str, str]:
    """Thread size by hole diameter in mm as text (or by feature id): {'10.2': 'M12'}. Raises UsageError."""
    threads: dict[str, str] = {}
    for text in texts:
        hole, equals, size = (piece.strip() for piece in text.partition("="))
        if not (hole and equals and size):
            raise UsageError(f"'{text}' is not a thread.", THREAD_HINT, "--thread")
        number = _numbers(hole)
        threads[f"{number[0]:g}" if number and len(number) == 1 else hole] = size
    return threads


def vise_from(text: str) -> dict[str, Any]:
    """Fields of shared.plan.Vise from 'opening=160,jaw_widths=80:125' or a vise file. Raises UsageError, DataFileError."""
    if Path(text).suffix.lower() in (".toml", ".csv"):
        from shared.shop.vise import load_vise

        return load_vise(text).model_dump()
    found = _named_numbers(text, "--vise", VISE_HINT)
    return {
        name: values if name == "jaw_widths" else _single(values, name, "--vise", VISE_HINT) for name, values in found
    }


def goals_from(text: str) -> list[str]:
    """'setups,minutes' -> the goals in that order. Which there are is the job's to check."""
    return [piece.strip() for piece in text.split(",") if piece.strip()]


def weights_from(text: str) -> dict[str, float]:
    """'clampings=60,minutes=1' -> price by goal. Raises UsageError."""
    found = _named_numbers(text, "--weights", WEIGHTS_HINT)
    return {name: _single(values, name, "--weights", WEIGHTS_HINT) for name, values in found}


def _named_numbers(text: str, option: str, hint: str) -> list[tuple[str, list[float]]]:
    """'a=1,b=2:3' -> [('a', [1]), ('b', [2, 3])]."""
    out: dict[str, list[float]] = {}
    for piece in (p.strip() for p in text.split(",") if p.strip()):
        name, equals, value = (p.strip() for p in piece.partition("="))
        numbers = _numbers(value.replace(":", ",")) if equals and name else None
        if not numbers:
            raise UsageError(f"'{piece}' is not a name and a number.", hint, option)
        if name in out:
            raise UsageError(f"{name} is given twice.", hint, option)
        out[name] = numbers
    return list(out.items())


def _single(values: list[float], name: str, option: str, hint: str) -> float:
    if len(values) != 1:
        raise UsageError(f"{name} takes one number.", hint, option)
    return values[0]
