"""Good STEP texts whose solid is spoilt: the text stays well formed, the shape is none, or another one.

As in `mutations.py`, each takes the text and a random.Random and returns bytes.
"""

from __future__ import annotations

import re
from random import Random

_POINT = re.compile(r"(CARTESIAN_POINT\s*\('[^']*',\()([^()]*)(\))")
_RADIUS = re.compile(r"((?:CIRCLE|CYLINDRICAL_SURFACE|CONICAL_SURFACE|TOROIDAL_SURFACE)\('',#\d+,)([-+.\dE]+)")
_NUMBERED = re.compile(r"#(\d+)")
_MM = re.compile(r"#(\d+) = \( ?LENGTH_UNIT\(\) NAMED_UNIT\(\*\) SI_UNIT\(\.MILLI\.,\.METRE\.\) ?\);")
_RADIAN = re.compile(r"#(\d+) = \( ?NAMED_UNIT\(\*\) PLANE_ANGLE_UNIT\(\) SI_UNIT\(\$,\.RADIAN\.\) ?\);")
_WHOLE = re.compile(r"#(\d+) = ADVANCED_BREP_SHAPE_REPRESENTATION\('',\((#\d+),([^)]*)\),(#\d+)\);")
_SHELL = re.compile(r"#(\d+) = CLOSED_SHELL\('[^']*',\(([^)]*)\)\);", re.S)
_SOLID = re.compile(r"#(\d+) = MANIFOLD_SOLID_BREP\('[^']*',#(\d+)\);", re.S)
_ROOTS = re.compile(r"#\d+ = (?:ADVANCED_BREP_SHAPE_REPR|SHAPE_|PRODUCT|APPLICATION|CONTEXT_DEP)[^;]*;\n?", re.S)
"""Records that make a solid a part of its own."""
_SMALL = (1e-4, 1e-3, 5e-3, 0.02, 0.1, 1.0)
_AT = 500_000
"""Numbers of added records begin here."""


def moved_surfaces(text: str, random: Random) -> bytes:
    """The surface of a face moved along by 0.1 um to 1 mm; its edges stay where they are."""
    surfaces = re.findall(r"(?:PLANE|CYLINDRICAL_SURFACE|CONICAL_SURFACE|SPHERICAL_SURFACE)\('[^']*',(#\d+)", text)
    return _moved(
        text, random, [p for s in surfaces for p in re.findall(rf"^{s} = AXIS2_PLACEMENT_3D\('',(#\d+)", text, re.M)]
    )


def moved_vertices(text: str, random: Random) -> bytes:
    """A vertex moved by 0.1 um to 1 mm; its edges stay where they are."""
    return _moved(text, random, re.findall(r"VERTEX_POINT\('[^']*',(#\d+)\)", text))


def _moved(text: str, random: Random, points: list[str]) -> bytes:
    for number in random.sample(points, min(len(points), random.choice((1, 1, 2)))):
        step = [random.choice((-1, 0, 1)) * random.choice(_SMALL) for _ in range(3)]
        record = re.compile(rf"(^{number} = CARTESIAN_POINT\('[^']*',\()([^()]*)", re.M)
        text = record.sub(lambda m, s=step: m.group(1) + _added(m.group(2), s), text)
    return text.encode()


def _added(coordinates: str, step: list[float]) -> str:
    return ",".join(_real(float(c) + s) for c, s in zip(coordinates.split(","), step, strict=False))


def _real(value: float) -> str:
    text = repr(value).upper()
    return text if "." in text else text.replace("E", ".E") if "E" in text else text + "."


def wrong_radii(text: str, random: Random) -> bytes:
    """Radii negative, exchanged, of nothing or a little off."""
    found = list(_RADIUS.finditer(text))
    for match in sorted(random.sample(found, min(len(found), random.choice((1, 2)))), key=lambda m: -m.start()):
        radius = float(match.group(2))
        other = float(random.choice(found).group(2))
        new = random.choice((-radius, other, 0.0, radius + 1e-3, radius * 1.01, radius - 1e-4, 1e9, 1e-9))
        text = text[: match.start(2)] + _real(new) + text[match.end(2) :]
    return text.encode()


def turned_all(text: str, random: Random) -> bytes:
    """Every face, every edge or every use of an edge turned round; or those of one face."""
    flip = {".T.": ".F.", ".F.": ".T."}
    kind = random.choice(("ADVANCED_FACE", "EDGE_CURVE", "ORIENTED_EDGE", "FACE_OUTER_BOUND", "FACE_BOUND"))
    share = random.choice((0.1, 0.5, 1.0))
    return re.sub(
        rf"({kind}\([^;]*?)(\.[TF]\.)(\);)",
        lambda m: m.group(1) + (flip[m.group(2)] if random.random() < share else m.group(2)) + m.group(3),
        text,
    ).encode()


def swapped_loops(text: str, random: Random) -> bytes:
    """Two faces trade their outlines, or an outer outline and a hole their names."""
    found = list(re.finditer(r"(ADVANCED_FACE\('[^']*',\()([^)]*)", text))
    if random.random() < 0.3 or len(found) < 2:
        return re.sub(
            r"FACE_(OUTER_)?BOUND", lambda m: "FACE_BOUND" if m.group(1) else "FACE_OUTER_BOUND", text
        ).encode()
    first, second = sorted(random.sample(found, 2), key=lambda m: m.start())
    return (
        text[: first.start(2)] + second.group(2) + text[first.end(2) : second.start(2)] + first.group(2)
        + text[second.end(2) :]
    ).encode()  # fmt: skip


def second_shells(text: str, random: Random) -> bytes:
    """A copy of the shell, moved or shrunk: as a hollow, in the same shell, or as a solid of its own."""
    shell, solid, whole = _SHELL.search(text), _SOLID.search(text), _WHOLE.search(text)
    if not shell or not solid or not whole:
        return text.encode()
    scale = random.choice((0.3, 0.5, 0.999999, 1.0, 1.5))
    step = [random.choice((0.0, 1e-4, 5.0, 20.0, 40.0, 60.0, 300.0)) for _ in range(3)]
    copy = _copied(text, scale, step)
    inner, how = f"#{int(shell.group(1)) + _AT}", random.random()
    if how < 0.5:
        hollow = f"#{_AT - 1} = ORIENTED_CLOSED_SHELL('',*,{inner},{random.choice(('.F.', '.T.'))});"
        text = text.replace(
            solid.group(0), f"#{solid.group(1)} = BREP_WITH_VOIDS('',#{solid.group(2)},(#{_AT - 1}));\n{hollow}"
        )
    elif how < 0.8:
        faces = _NUMBERED.sub(lambda m: f"#{int(m.group(1)) + _AT}", shell.group(2))
        text = text.replace(shell.group(2), f"{shell.group(2)},{faces}")
    else:
        text = text.replace(whole.group(3), f"{whole.group(3)},#{int(solid.group(1)) + _AT}", 1)
    return text.replace("ENDSEC;\nEND-ISO", copy + "ENDSEC;\nEND-ISO").encode()


def _copied(text: str, scale: float, step: list[float]) -> str:
    """Records of points, curves, surfaces and faces once more, under other numbers, scaled and moved."""
    data = text.partition("DATA;\n")[2].partition("ENDSEC;\nEND-ISO")[0]
    data = _ROOTS.sub("", data)
    data = _NUMBERED.sub(lambda m: f"#{int(m.group(1)) + _AT}", data)

    def placed(match: re.Match[str]) -> str:
        values = [float(v) for v in match.group(2).split(",")]
        if len(values) == 3:
            values = [v * scale + s for v, s in zip(values, step, strict=True)]
        return match.group(1) + ",".join(map(_real, values)) + match.group(3)

    return _RADIUS.sub(lambda m: m.group(1) + _real(float(m.group(2)) * scale), _POINT.sub(placed, data))


def other_units(text: str, random: Random) -> bytes:
    """Units changed while the numbers stay, with a name of their own, of no size or of a wrong one."""
    length, angle = _MM.search(text), _RADIAN.search(text)
    if not length or not angle:
        return text.replace(".MILLI.", random.choice(("$", ".CENTI.", ".KILO.")), 1).encode()
    kind, match = random.choice((("LENGTH", length), ("LENGTH", length), ("PLANE_ANGLE", angle)))
    if random.random() < 0.25:
        return text.replace(
            match.group(0), match.group(0).replace(".MILLI.", random.choice(("$", ".KILO.", ".NANO.")))
        ).encode()
    name, size = random.choice(
        (("INCH", "25.4"), ("INCH", "2.54"), ("DEGREE", "0.0174532925"), ("DEGREE", "1."), ("OWN", "0."), ("OWN", "-1."),
         ("OWN", "1.E300"), ("", "1."))
    )  # fmt: skip
    basic = match.group(0).partition("=")[2]
    unit = f"( CONVERSION_BASED_UNIT('{name}',#{_AT + 1}) {kind}_UNIT() NAMED_UNIT(#{_AT + 3}) );"
    measure = f"#{_AT + 1} = {kind}_MEASURE_WITH_UNIT({kind}_MEASURE({size}),#{_AT + 2});"
    zeros = f"#{_AT + 3} = DIMENSIONAL_EXPONENTS(0.,0.,0.,0.,0.,0.,0.);"
    return text.replace(match.group(0), f"#{match.group(1)} = {unit}\n{measure}\n#{_AT + 2} ={basic}\n{zeros}").encode()


def placed_parts(text: str, random: Random) -> bytes:
    """The solid placed by a transformation that moves, scales, mirrors or flattens it, up to a hundred times over."""
    whole = _WHOLE.search(text)
    if not whole:
        return text.encode()
    number, axis, solid, context = whole.groups()
    depth, scale = random.choice((1, 1, 3, 100)), random.choice(("1.", "2.", "-1.", "0.", "1.E-6", "$"))
    third = random.choice(("#499996", "#499997", "#499994", "$"))
    records = [f"#{number} = ADVANCED_BREP_SHAPE_REPRESENTATION('',(#{_AT}),{context});"]
    for n in range(depth):
        at, inner = _AT + 10 * n, f"#{_AT + 10 * (n + 1)}" if n + 1 < depth else solid
        records += [
            f"#{at} = MAPPED_ITEM('',#{at + 1},#{at + 3});",
            f"#{at + 1} = REPRESENTATION_MAP({axis},#{at + 2});",
            f"#{at + 2} = ADVANCED_BREP_SHAPE_REPRESENTATION('',({axis},{inner}),{context});",
            f"#{at + 3} = CARTESIAN_TRANSFORMATION_OPERATOR_3D('',$,#499994,#499995,#499998,{scale},{third});",
        ]
    records += [
        "#499994 = DIRECTION('',(1.,0.,0.));", "#499995 = DIRECTION('',(0.,1.,0.));",
        "#499996 = DIRECTION('',(0.,0.,1.));", "#499997 = DIRECTION('',(0.,0.,-1.));",
        "#499998 = CARTESIAN_POINT('',(1.,2.,3.));",
    ]  # fmt: skip
    return text.replace(whole.group(0), "\n".join(records)).encode()


def odd_writing(text: str, random: Random) -> bytes:
    """What the standard allows or nearly allows: comments, long lines, bare returns, encoded names, high numbers."""
    name = random.choice(("CLOSED_SHELL(''", "MANIFOLD_SOLID_BREP(''"))
    return random.choice(
        (
            lambda: text.replace("\n", "\r"),
            lambda: text.replace("\n", " "),
            lambda: text.replace(",", ",/* ; #12 = ( ' */"),
            lambda: text.replace(name, name[:-1] + "/* #1=; ''"),
            lambda: text.replace(name, name[:-1] + "it''s; #5=X(#6"),
            lambda: text.replace(name, name[:-1] + r"\X2\00DC006D006C\X0\ \S\D \PA\ \X\FC"),
            lambda: text.replace(name, name[:-1] + r"\X2\00DC00"),
            lambda: text.replace(name, name[:-1] + "x" * 5_000_000),
            lambda: text.replace("DATA;", "DATA; /* never ends"),
            lambda: _NUMBERED.sub(
                lambda m: f"#{int(m.group(1)) + random.choice((2**31, 2**32, 10**17, 10**19))}", text
            ),
            lambda: re.sub(r"(\(-?\d+\.\d*),", r"\1D0,", text),
            lambda: text + text,
            lambda: text.lower(),
        )
    )().encode()


SHAPE_MUTATIONS = (
    moved_surfaces, moved_vertices, wrong_radii, turned_all, swapped_loops, second_shells, other_units, placed_parts,
    odd_writing,
)  # fmt: skip
