"""Errors as people see them: one block on standard error, an exit code, and never a traceback."""

from __future__ import annotations

import errno
import os
import re
import sys
import textwrap
import traceback
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import typer

from shared.errors import DataFileError, SidewiseError, UsageError
from shared.names import readable

WIDTH = 100
ROOMS = ("recognizer", "planner", "shared", "service")
DISK_ERRORS = (errno.ENOSPC, errno.EDQUOT, errno.EIO, errno.EFBIG)
REPORT_HINT = (
    "This is a fault in Sidewise, not in your part. Please report it as an issue with this block, the command you "
    "ran, `sidewise --version` and, if you may share it, the STEP file."
)


@contextmanager
def reported(part: str = "") -> Iterator[None]:
    """Turns whatever goes wrong inside into a block on standard error and an exit code.

    part: path of the file being worked on, named in the block. Exit codes: shared/errors.py; 130 when interrupted.
    """
    try:
        yield
    except typer.Exit:
        raise
    except SidewiseError as error:
        print(block(error, part), file=sys.stderr)
        raise typer.Exit(error.exit_code) from None
    except KeyboardInterrupt:
        print("Stopped.", file=sys.stderr)
        raise typer.Exit(130) from None
    except BrokenPipeError:  # the reader of our output went away: nobody is left to tell
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        raise typer.Exit(0) from None
    except OSError as error:
        if error.errno not in DISK_ERRORS:
            print(block(internal(error), part), file=sys.stderr)
            raise typer.Exit(SidewiseError.exit_code) from None
        full = UsageError(f"The output cannot be written: {error.strerror}.", "Free some space or write elsewhere.")
        print(block(full), file=sys.stderr)
        raise typer.Exit(full.exit_code) from None
    except Exception as error:
        print(block(internal(error), part), file=sys.stderr)
        raise typer.Exit(SidewiseError.exit_code) from None


def internal(error: Exception) -> SidewiseError:
    """An unexpected exception as an error of ours that says where it came from and how to report it."""
    cause = f"{type(error).__name__}: {error}".strip().splitlines()[0]
    return SidewiseError(f"Sidewise failed: {cause}", REPORT_HINT, _place(error))


def _place(error: Exception) -> str:
    """'file.py:12' of the innermost line of ours; a worker sends its traceback along as the cause's text."""
    frames = [(f.filename, str(f.lineno)) for f in traceback.extract_tb(error.__traceback__)]
    frames += re.findall(r'File "([^"]+)", line (\d+)', str(error.__cause__ or ""))
    ours = [(name, line) for name, line in frames if any(room in Path(name).parts for room in ROOMS)]
    if not frames:
        return ""
    name, line = (ours or frames)[-1]
    return f"{Path(name).name}:{line}"


def block(error: SidewiseError, part: str = "") -> str:
    """What happened, where, and what to try, as text of at most 100 columns."""
    part = readable(part)
    about = "" if isinstance(error, DataFileError) else Path(part).name  # that is another file's fault
    where = ", ".join(piece for piece in (about, error.where) if piece)
    rows = [
        ("Error:", f"{_sentence(error.message, Path(part).name)} [{error.code}]"),
        ("Where:", where),
        ("Try:", _sentence(error.hint)),
    ]
    return "\n".join(
        textwrap.fill(text, WIDTH, initial_indent=f"{label:<7}", subsequent_indent=" " * 7)
        for label, text in rows
        if text
    )


def _sentence(text: str, name: str = "") -> str:
    """With a full stop and a capital letter, unless it begins with the file's `name`."""
    if not (name and text.startswith(name)):
        text = text[:1].upper() + text[1:]
    return text if not text or text.endswith((".", "!", "?", ")")) else text + "."
