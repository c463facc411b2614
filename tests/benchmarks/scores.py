"""Scores of predicted segments against labels: faces, parts, instances and panoptic quality.

Panoptic quality: Kirillov, He, Girshick, Rother, Dollar, "Panoptic Segmentation", CVPR 2019, equation 1 (from memory);
a segment is the set of faces of one feature and IoU counts faces. With IoU > 0.5 every match is unique (same paper).
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from tests.benchmarks.dataset import Case
from tests.benchmarks.pool import Answer

STOCK = "stock"
NOTHING = "(none)"
"""Predicted for every face of a part that gave an error, so that it counts as wrong."""
Segment = tuple[str, frozenset[int]]


@dataclass
class PartScore:
    """One part: predicted label of each face, what is wrong with it, and its segments on both sides."""

    stem: str
    truth: tuple[str, ...]
    said: list[str]
    true_segments: list[Segment] | None
    said_segments: list[Segment]
    error: str | None
    kinds: dict[int, str] = field(default_factory=dict)

    @property
    def wrong_faces(self) -> list[int]:
        """Indices of faces whose label differs."""
        return [i for i, (t, s) in enumerate(zip(self.truth, self.said, strict=True)) if t != s]

    @property
    def right(self) -> bool:
        """Every face has its label."""
        return not self.wrong_faces

    @property
    def instances_right(self) -> bool:
        """Every instance is there with its class and its exact faces, and no other is (stock apart)."""
        return self.true_segments is not None and Counter(self.true_segments) == Counter(self.said_segments)


def part_score(case: Case, answer: Answer) -> PartScore:
    """Predicted labels of a part; faces that no feature claims are stock."""
    error = answer.error
    if error is None and answer.faces != len(case.labels):
        error = f"the document has {answer.faces} faces, the labels {len(case.labels)}"
    said = [NOTHING if error else STOCK] * len(case.labels)
    segments: list[Segment] = []
    kinds: dict[int, str] = {}
    for s in [] if error else answer.segments:
        for f in s["faces"]:
            said[f] = s["class"]
            kinds[f] = f"{s['id']} {s['kind']}"
        if s["class"] != STOCK:
            segments.append((s["class"], frozenset(s["faces"])))
    true = None if case.instances is None else list(case.instances)
    return PartScore(case.stem, case.labels, said, true, segments, error, kinds)


@dataclass
class Tally:
    """Right, said and true counts of one class."""

    right: int = 0
    said: int = 0
    true: int = 0

    @property
    def precision(self) -> float:
        """Right of said; 0 where nothing was said."""
        return self.right / self.said if self.said else 0.0

    @property
    def recall(self) -> float:
        """Right of true; 0 where nothing is true."""
        return self.right / self.true if self.true else 0.0

    @property
    def f1(self) -> float:
        """Harmonic mean of precision and recall."""
        return 2 * self.right / (self.said + self.true) if self.said + self.true else 0.0


def face_tallies(parts: list[PartScore]) -> dict[str, Tally]:
    """Per class, over faces."""
    tallies: dict[str, Tally] = {}
    for p in parts:
        for t, s in zip(p.truth, p.said, strict=True):
            tallies.setdefault(t, Tally()).true += 1
            tallies.setdefault(s, Tally()).said += 1
            tallies[t].right += t == s
    return dict(sorted(tallies.items()))


def instance_tallies(parts: list[PartScore]) -> dict[str, Tally]:
    """Per class, over features: right is the same class and exactly the same faces."""
    tallies: dict[str, Tally] = {}
    for p in parts:
        true, said = Counter(p.true_segments or []), Counter(p.said_segments)
        for counter, name in ((true, "true"), (said, "said"), (true & said, "right")):
            for (label, _), n in counter.items():
                tally = tallies.setdefault(label, Tally())
                setattr(tally, name, getattr(tally, name) + n)
    return dict(sorted(tallies.items()))


def total(tallies: dict[str, Tally]) -> Tally:
    """All classes together."""
    values = tallies.values()
    return Tally(sum(t.right for t in values), sum(t.said for t in values), sum(t.true for t in values))


def confusions(parts: list[PartScore]) -> Counter[tuple[str, str]]:
    """How many faces of each true label were said to be each other label."""
    return Counter((p.truth[i], p.said[i]) for p in parts for i in p.wrong_faces)


def renamed(parts: list[PartScore]) -> Counter[tuple[str, str]]:
    """Features found with exactly their faces but another class: (true, said) -> how many. A question of names only."""
    found: Counter[tuple[str, str]] = Counter()
    for p in parts:
        said = {faces: name for name, faces in p.said_segments}
        found.update((name, said[f]) for name, f in p.true_segments or [] if f in said and said[f] != name)
    return found


def panoptic(parts: list[PartScore], label: str | None = None) -> float:
    """Panoptic quality of one class, or of all features together; 0 where there is no segment at all."""
    overlap, matches, loose = 0.0, 0, 0
    for p in parts:
        true = [f for c, f in p.true_segments or [] if label in (None, c)]
        classes = [c for c, _ in p.true_segments or [] if label in (None, c)]
        said = [(c, f) for c, f in p.said_segments if label in (None, c)]
        found = 0
        for c, faces in zip(classes, true, strict=True):
            best = max((_iou(faces, f) for k, f in said if k == c), default=0.0)
            if best > 0.5:
                overlap, found = overlap + best, found + 1
        matches += found
        loose += len(true) + len(said) - 2 * found
    whole = matches + loose / 2
    return overlap / whole if whole else 0.0


def _iou(a: frozenset[int], b: frozenset[int]) -> float:
    return len(a & b) / len(a | b)
