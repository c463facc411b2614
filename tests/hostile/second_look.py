"""A second look at the solid of which a plan was made, by the kernel's own slow checks and not by our reader's."""

from __future__ import annotations

import tempfile
from pathlib import Path

SAME = 2e-3
"""Share by which two measurements of a volume may differ: facets and sloppy edges."""


def unsound(data: bytes, volume: float | None = None) -> str | None:
    """Why the solid in a STEP file is not sound, or is not of this volume in mm3; or None. Runs in a worker: the kernel
    may crash.
    """
    from OCP.BOPAlgo import BOPAlgo_ArgumentAnalyzer
    from OCP.BRepCheck import BRepCheck_Analyzer
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    from recognizer.kernel.read import read_solid

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "part.step"
        path.write_bytes(data)
        solid = read_solid(path).shape
    if not BRepCheck_Analyzer(solid).IsValid():
        return "the kernel calls it invalid"
    measured = GProp_GProps()
    BRepGProp.VolumeProperties_s(solid, measured)
    if not measured.Mass() > 0:
        return f"its volume is {measured.Mass()}"
    if volume is not None and abs(volume - measured.Mass()) > SAME * measured.Mass():
        return f"its volume is {measured.Mass():.6g}, and not {volume:.6g}"
    analyzer = BOPAlgo_ArgumentAnalyzer()
    analyzer.SetShape1(solid)
    analyzer.ArgumentTypeMode = False
    analyzer.SelfInterMode = True
    analyzer.Perform()
    if analyzer.HasFaulty():
        return "its faces cross"
    return None
