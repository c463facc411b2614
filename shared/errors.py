"""Everything that Sidewise raises on purpose.

SidewiseError            message, hint, where; exit code 5
|- UsageError            wrong options or values                              exit 2
|  |- DataFileError      a cutter, material, machine or rates file            exit 2
|- UnusableFile          the model file cannot be used                        exit 3
|  |- NotStep            not a STEP file, empty or truncated
|  |- NoSolid            no solid: surfaces only, wires, nothing
|  |- SeveralSolids      more than one solid and none chosen
|  |- UnsoundSolid       open shell, inside out, zero thickness, absurd size
|- KernelFailure         the kernel crashed or ran out of time or memory      exit 4
|  |- KernelCrash
|  |- KernelTimeout
|  |- KernelMemory
|  |- KernelKilled
"""

from __future__ import annotations


class SidewiseError(Exception):
    """An error that says what happened, where, and what the user can try."""

    exit_code = 5
    code = "internal_error"

    def __init__(self, message: str, hint: str = "", where: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.hint = hint
        self.where = where

    def __reduce__(self):  # type: ignore[no-untyped-def]
        """Survives the way back from a worker process with all its fields."""
        return (type(self), (self.message, self.hint, self.where))


class UsageError(SidewiseError):
    """Wrong options or values."""

    exit_code = 2
    code = "usage"


class DataFileError(UsageError):
    """A cutter, material, machine or rates file that cannot be used; `where` names file, line and field."""

    code = "data_file"


class UnusableFile(SidewiseError):
    """The model file cannot be used."""

    exit_code = 3
    code = "unusable_file"


class NotStep(UnusableFile):
    """Not a STEP file, empty or truncated."""

    code = "not_step"


class NoSolid(UnusableFile):
    """The file holds no solid."""

    code = "no_solid"


class SeveralSolids(UnusableFile):
    """The file holds several solids and none was chosen."""

    code = "several_solids"


class UnsoundSolid(UnusableFile):
    """The solid is open, inside out, of zero thickness or of absurd size."""

    code = "unsound_solid"


class KernelFailure(SidewiseError):
    """The kernel did not survive the file or ran out of its limits."""

    exit_code = 4
    code = "kernel_failure"


class KernelCrash(KernelFailure):
    """The kernel crashed on the file."""

    code = "kernel_crash"


class KernelTimeout(KernelFailure):
    """The kernel ran out of its time on the file."""

    code = "kernel_timeout"


class KernelMemory(KernelFailure):
    """The kernel ran out of its memory on the file."""

    code = "kernel_memory"


class KernelKilled(KernelFailure):
    """Something outside killed the process that read the file: says nothing about the file."""

    code = "kernel_killed"
