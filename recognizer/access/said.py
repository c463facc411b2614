"""What is known of one face from one direction, while it is gathered."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from shared.plan import Tool


@dataclass
class Said:
    """Shares of the face's area, radii and lengths in mm."""

    seen: float = 0.0
    touched: float = 0.0
    fits: float = np.inf
    depth: float = 0.0
    lies: str = "away"
    by: list[float] = field(default_factory=list)
    largest: Tool | None = None
    form: Tool | None = None
    lost: dict[tuple[str, int], float] = field(default_factory=dict)
    """Share lost by (reason, face in the way or -1)."""

    @property
    def left(self) -> float:
        """Share that is seen and not touched, and not yet laid to anything but what hides the rest."""
        return self.seen - self.touched - sum(v for (reason, _), v in self.lost.items() if reason != "material_above")

    def lose(self, reason: str, face: int, share: float) -> None:
        """Adds to what is lost."""
        if share > 1e-9:
            self.lost[(reason, face)] = self.lost.get((reason, face), 0.0) + share

    def share_out(self, reason: str, faces: np.ndarray, share: float) -> None:
        """Shares a loss out over the faces in the way, by how often each was met."""
        if share <= 1e-9:
            return
        if not len(faces):
            self.lose(reason, -1, share)
            return
        names, counts = np.unique(faces, return_counts=True)
        for f, c in zip(names.tolist(), counts.tolist(), strict=True):
            self.lose(reason, int(f), share * c / len(faces))
