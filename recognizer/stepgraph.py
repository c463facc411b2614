"""References between the records of a STEP file: none may dangle, point at itself or run in a circle."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from shared.errors import NotStep

_LONGEST = 18
"""Digits of a record number that are read: the most that fit a 64-bit integer."""
_ROOTS = re.compile(rb"BREP|SHELL|SURFACE_MODEL|SHAPE_REPRESENTATION|PRODUCT_DEFINITION|CONTEXT_DEPENDENT")
_HINT = "The file is damaged (edited, cut or merged): export the model again."


@dataclass(frozen=True)
class References:
    """Records and what they refer to.

    ids: (n,) record numbers in file order; starts: (n,) where each record's # stands in the text.
    owner, target: (m,) one row a reference: place in `ids` of the record that refers, number it refers to.
    """

    ids: np.ndarray
    starts: np.ndarray
    owner: np.ndarray
    target: np.ndarray


def references(plain: bytes) -> References:
    """All records and references of a text whose strings are emptied and comments gone. Raises NotStep where a number is
    too long to be held.
    """
    text = np.frombuffer(plain + b" " * (_LONGEST + 4), np.uint8)
    at = np.flatnonzero(text == ord("#"))
    at = at[(text[at + 1] >= 48) & (text[at + 1] <= 57)]
    value, behind = np.zeros(len(at), np.int64), at + 1
    running = np.arange(len(at))
    for _ in range(_LONGEST):
        digit = text[behind[running]]
        running = running[(digit >= 48) & (digit <= 57)]
        if not len(running):
            break
        value[running] = value[running] * 10 + (text[behind[running]] - 48)
        behind[running] += 1
    longer = behind[(text[behind] >= 48) & (text[behind] <= 57)]
    if len(longer):
        raise NotStep(
            f"The file numbers its records with more than {_LONGEST} digits.",
            "Open it in a modelling program and export it again: that numbers the records anew.",
            f"#{value[np.flatnonzero(behind == longer[0])[0]]}...",
        )
    defines = _followed_by_equals(text, behind)
    owner = np.cumsum(defines) - 1
    inside = ~defines & (owner >= 0)
    return References(value[defines], at[defines], owner[inside], value[inside])


def _followed_by_equals(text: np.ndarray, behind: np.ndarray) -> np.ndarray:
    """Whether = stands at each place, white space skipped."""
    place, last = behind.copy(), len(text) - 1
    while True:
        blank = np.flatnonzero((text[place] <= 32) & (place < last))
        if not len(blank):
            return text[place] == ord("=")
        place[blank] += 1


def check_references(refs: References, plain: bytes) -> None:
    """Passes where all references of the model's shape are sound; raises NotStep naming the record.

    Records that no shape needs (notes, colours) may be broken: real exporters leave such things, and the kernel
    does not follow them.
    """
    order = np.argsort(refs.ids, kind="stable")
    place = np.searchsorted(refs.ids, refs.target, sorter=order).clip(max=max(len(order) - 1, 0))
    index = order[place] if len(order) else place
    dangling = refs.ids[index] != refs.target
    itself = index == refs.owner
    wrong = np.flatnonzero(dangling | itself)
    circular = _circles(refs.owner[~dangling], index[~dangling], len(refs.ids))
    if not len(wrong) and not len(circular):
        return
    needed = _needed(refs, np.where(dangling, -1, index), plain)
    for k in wrong:
        if needed[refs.owner[k]]:
            where = f"#{refs.ids[refs.owner[k]]}"
            if itself[k]:
                raise NotStep("A record of the file refers to itself.", _HINT, where)
            raise NotStep(f"A record of the file refers to #{refs.target[k]}, which is not there.", _HINT, where)
    for record in circular:
        if needed[record]:
            raise NotStep("The file's records refer to each other in a circle.", _HINT, f"#{refs.ids[record]}")


def _circles(owner: np.ndarray, target: np.ndarray, count: int) -> np.ndarray:
    """Records on a circle: what is left when records that refer to nothing are taken off again and again."""
    previous = -1
    while len(owner) != previous:
        previous = len(owner)
        leads_on, led_to = np.zeros(count, bool), np.zeros(count, bool)
        leads_on[owner] = True
        led_to[target] = True
        keep = leads_on[target] & led_to[owner]
        owner, target = owner[keep], target[keep]
    return np.unique(owner)


def _needed(refs: References, index: np.ndarray, plain: bytes) -> np.ndarray:
    """(n,) whether the model's shape needs a record: all that shapes, shells and products lead to."""
    ends = np.append(refs.starts[1:], len(plain))
    heads = (plain[a:b].partition(b"=")[2].partition(b"#")[0] for a, b in zip(refs.starts, ends, strict=True))
    needed = np.array([bool(_ROOTS.search(head)) for head in heads], bool)
    known = index >= 0
    owner, target = refs.owner[known], index[known]
    before = -1
    while needed.sum() != before:
        before = needed.sum()
        needed[target[needed[owner]]] = True
    return needed
