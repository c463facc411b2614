"""Alternatives chosen before the search, where the search could not tell them apart."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import product
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from planner.tasks import Task


def settled(tasks: Sequence[Task]) -> Iterator[list[Task]]:
    """The tasks with one member left of each group that some task's `after` names only in part; every such choice.

    Whether such a task has to wait depends on the member that is chosen. Groups that are waited for as a whole, or not
    at all, stay open. One answer where no group is named in part: then it is the tasks as they are.
    """
    groups: dict[str, list[str]] = {}
    for task in tasks:
        if task.group:
            groups.setdefault(task.group, []).append(task.id)
    parted = [members for members in groups.values() if any(_in_part(t, members) for t in tasks)]
    for chosen in product(*parted):
        gone = {m for members in parted for m in members} - set(chosen)
        yield [replace(t, after=t.after - gone) for t in tasks if t.id not in gone]


def _in_part(task: Task, members: list[str]) -> bool:
    return task.id not in members and any(m in task.after for m in members) and not task.after.issuperset(members)
