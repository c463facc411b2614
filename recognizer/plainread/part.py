"""The one solid of a file whose structure is plain: which faces it has, and that nothing else is in the file."""

from __future__ import annotations

from collections import Counter

from recognizer.plainread.records import NotPlain, Records, reference, references

_ONE_OF_EACH = (b"MANIFOLD_SOLID_BREP", b"CLOSED_SHELL", b"SHAPE_DEFINITION_REPRESENTATION", b"PRODUCT_DEFINITION")
_REPRESENTATIONS = (b"ADVANCED_BREP_SHAPE_REPRESENTATION", b"SHAPE_REPRESENTATION")
_ELSEWHERE = (
    b"BREP_WITH_VOIDS FACETED_BREP OPEN_SHELL ORIENTED_CLOSED_SHELL ORIENTED_OPEN_SHELL SHELL_BASED_SURFACE_MODEL "
    b"FACE_BASED_SURFACE_MODEL FACE_SURFACE ORIENTED_FACE SUBFACE MAPPED_ITEM REPRESENTATION_MAP GEOMETRIC_SET "
    b"GEOMETRIC_CURVE_SET NEXT_ASSEMBLY_USAGE_OCCURRENCE ITEM_DEFINED_TRANSFORMATION VERTEX_LOOP POLY_LOOP "
    b"CONTEXT_DEPENDENT_SHAPE_REPRESENTATION SHAPE_REPRESENTATION_RELATIONSHIP TESSELLATED_SOLID TESSELLATED_SHELL"
).split()
"""Records of shapes beside, within or instead of the one solid: then it is for the kernel to sort them out."""
_IN_COMPLEX = (b"RELATIONSHIP", b"TRANSFORMATION", b"BREP", b"SHELL", b"REPRESENTATION_MAP")


def faces_of_solid(records: Records) -> list[int]:
    """Numbers of the solid's ADVANCED_FACE records, in the shell's order. Lengths of the file are in mm."""
    kinds = Counter({kind: len(numbers) for kind, numbers in records.numbers.items()})
    representations = [k for k in kinds if k.endswith(b"SHAPE_REPRESENTATION")]
    single = all(kinds[k] == 1 for k in _ONE_OF_EACH) and len(representations) == 1
    single = single and kinds[representations[0]] == 1
    complex_ = b";".join(records.body(n) for n in records.numbers.get(b"", ()))
    if (
        not single
        or representations[0] not in _REPRESENTATIONS
        or any(kinds[k] for k in _ELSEWHERE)
        or any(mark in complex_ for mark in _IN_COMPLEX)
    ):
        raise NotPlain("more than one solid alone")
    (solid,) = records.numbers[b"MANIFOLD_SOLID_BREP"]
    (whole,) = records.numbers[representations[0]]
    _, items, context = records.fields(whole, representations[0], 3)
    if solid not in references(items):
        raise NotPlain("the solid is not what the file represents")
    _check_units(records, reference(context))
    shell = reference(records.fields(solid, b"MANIFOLD_SOLID_BREP", 2)[1])
    faces = references(records.fields(shell, b"CLOSED_SHELL", 2)[1])
    if len(set(faces)) != len(faces) or len(faces) != kinds[b"ADVANCED_FACE"]:
        raise NotPlain("faces beside the shell")
    return faces


def _check_units(records: Records, context: int) -> None:
    """Raises NotPlain unless lengths are in mm and angles in radians."""
    body = records.body(context)
    if records.kind(context) != b"" or b"GLOBAL_UNIT_ASSIGNED_CONTEXT" not in body:
        raise NotPlain("units are not told")
    assigned = body.partition(b"GLOBAL_UNIT_ASSIGNED_CONTEXT")[2].partition(b")")[0]
    units = [b"".join(records.body(n).split()) for n in references(assigned)]
    lengths = [u for u in units if b"LENGTH_UNIT" in u]
    angles = [u for u in units if b"PLANE_ANGLE_UNIT" in u]
    if len(lengths) != 1 or b"SI_UNIT(.MILLI.,.METRE.)" not in lengths[0]:
        raise NotPlain("lengths are not in mm")
    if len(angles) != 1 or b"SI_UNIT($,.RADIAN.)" not in angles[0]:
        raise NotPlain("angles are not in radians")
