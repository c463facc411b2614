"""What people type, turned into a job: stock, threads. Mistakes are UsageErrors that show a right example."""

from __future__ import annotations

from pathlib import Path

from shared.errors import UsageError

STOCK_HINT = "Give one allowance (2), six as '-x,+x,-y,+y,-z,+z' ('2,2,2,2,0,3'), or the path of a STEP file."
THREAD_HINT = "Write the hole's diameter in mm, =, and the thread: --thread 10.2=M12 or --thread 9=M10x1."


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
