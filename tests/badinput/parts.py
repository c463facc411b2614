"""Bad STEP files, made by script: each from a good box with one thing spoilt."""

from __future__ import annotations

import re
from pathlib import Path

import cadquery as cq

BOX = (40.0, 30.0, 20.0)


def box() -> cq.Workplane:
    """A plain box with one hole, the good part that the others are spoilt from."""
    return cq.Workplane("XY").box(*BOX).faces(">Z").workplane().hole(8)


def write(shape: cq.Workplane | cq.Shape, path: Path) -> Path:
    """The shape as a STEP file."""
    cq.exporters.export(shape if isinstance(shape, cq.Workplane) else cq.Workplane(obj=shape), str(path))
    return path


def good_text(folder: Path) -> str:
    """Text of the good part's STEP file."""
    return write(box(), folder / "good.step").read_text()


def without_a_face(text: str) -> str:
    """The closed shell lists one face less: the solid is open."""
    return re.sub(r"(CLOSED_SHELL\('[^']*',\()#\d+,\s*", r"\1", text, count=1)


def shell_turned(text: str) -> str:
    """Every face's sense is flipped: all normals point inwards."""
    flip = {".T.": ".F.", ".F.": ".T."}
    return re.sub(
        r"(ADVANCED_FACE\('[^']*',\([^)]*\),\s*#\d+,\s*)(\.[TF]\.)", lambda m: m.group(1) + flip[m.group(2)], text
    )


def one_face_turned(text: str) -> str:
    """One face's sense is flipped: it contradicts its neighbours."""
    return re.sub(r"(ADVANCED_FACE\('[^']*',\([^)]*\),\s*#\d+,\s*)\.T\.", r"\1.F.", text, count=1)


def dangling(text: str) -> str:
    """A face's surface is not in the file."""
    return re.sub(r"(ADVANCED_FACE\('[^']*',\([^)]*\),\s*)#\d+", r"\1#999999", text, count=1)


def self_reference(text: str) -> str:
    """A placement refers to itself."""
    return re.sub(r"#(\d+) = AXIS2_PLACEMENT_3D\('',#\d+", r"#\1 = AXIS2_PLACEMENT_3D('',#\1", text, count=1)


def circle(text: str) -> str:
    """A face refers to its own shell: records run in a circle."""
    shell = re.search(r"#(\d+) = CLOSED_SHELL", text)
    assert shell
    return re.sub(r"(ADVANCED_FACE\('[^']*',\()#\d+", rf"\1#{shell.group(1)}", text, count=1)


def not_a_number(text: str) -> str:
    """One coordinate is not a number."""
    return re.sub(r"(CARTESIAN_POINT\('',\()[-0-9.E]+,", r"\1NaN,", text, count=3)


def deep(text: str, depth: int = 5000) -> str:
    """A list nested thousands deep."""
    return text.replace("ENDSEC;\nEND-ISO", f"#990000 = ITEM({'(' * depth}1{')' * depth});\nENDSEC;\nEND-ISO")


def scaled(text: str, factor: float) -> str:
    """All coordinates times a factor, as a wrong unit does."""

    def times(match: re.Match[str]) -> str:
        values = ",".join(repr(float(v) * factor) for v in match.group(2).split(","))
        return match.group(1) + values.upper() + ")"

    return re.sub(r"(CARTESIAN_POINT\('[^']*',\()([^)]*)\)", times, text)
