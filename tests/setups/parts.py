"""Hand-built features documents for the planner's tests: a block in its own axes with features put in by plain figures."""

from __future__ import annotations

from shared.features import (
    Axis,
    Box,
    Closure,
    Edge,
    Face,
    Feature,
    FeaturesDocument,
    HoleStep,
    Part,
    Side,
    View,
)

AXES = {"x": 0, "y": 1, "z": 2}


def unit(name):
    """Unit vector of +x, -x, ..."""
    v = [0.0, 0.0, 0.0]
    v[AXES[name[1]]] = 1.0 if name[0] == "+" else -1.0
    return tuple(v)


def opposite(name):
    return ("-" if name[0] == "+" else "+") + name[1]


class Block:
    """A block from the origin to `size`; methods add features and return their ids; `document()` makes the document."""

    def __init__(self, size=(100.0, 60.0, 20.0), sides=("+x", "-x", "+y", "-y", "+z", "-z"), frame=None):
        self.size = tuple(float(s) for s in size)
        self.features, self.faces, self.edges = [], 0, []
        self.areas = {}  # face -> mm2, where a test wants another than 1000
        self.frame = frame or [unit("+x"), unit("+y"), unit("+z")]
        self.side_faces = {s: self.planar_face(s) for s in sides}

    def level(self, side):
        return self.size[AXES[side[1]]] if side[0] == "+" else 0.0

    def new_faces(self, n):
        self.faces += n
        return list(range(self.faces - n, self.faces))

    def add(self, feature):
        self.features.append(feature)
        return feature.id

    def id(self):
        return f"f{len(self.features) + 1}"

    def outline(self, direction, low, high, level):
        """Rectangle across a direction; low and high are (u, v) along the two other axes in x, y, z order."""
        others = [a for a in "xyz" if a != direction[1]]
        value = level if direction[0] == "+" else -level
        corners = [(low[0], low[1]), (high[0], low[1]), (high[0], high[1]), (low[0], high[1])]
        out = []
        for u, v in corners:
            p = [0.0, 0.0, 0.0]
            p[AXES[others[0]]], p[AXES[others[1]]], p[AXES[direction[1]]] = u, v, value
            out.append(tuple(p))
        return out

    def extents(self, direction):
        return [self.size[AXES[a]] for a in "xyz" if a != direction[1]]

    def planar_face(self, side, mill_from=()):
        """The whole face of a side; `mill_from` adds profile views: its wall milled from other directions."""
        face = self.new_faces(1)
        e = self.extents(side)
        self.areas[face[0]] = e[0] * e[1]
        ring = self.outline(side, (0, 0), e, self.level(side))
        views = [
            View(
                direction=unit(side), kind="planar_face", reachable=True, reach_share=1.0, top=self.level(side),
                bottom=self.level(side), depth=0.0, length=max(e), width=min(e), region_area=e[0] * e[1], outline=[ring],
                open_sides=4, sides=[Side(open=True, faces=[], edges=[], length=10, start=ring[0], end=ring[1])],
            )
        ]  # fmt: skip
        for d in mill_from:
            depth = self.size[AXES[d[1]]]
            along = [a for a in "xyz" if a not in (side[1], d[1])][0]
            start, end = [0.0] * 3, [0.0] * 3
            start[AXES[side[1]]] = end[AXES[side[1]]] = self.size[AXES[side[1]]] if side[0] == "+" else 0.0
            end[AXES[along]] = self.size[AXES[along]]
            wall = Side(
                open=False, faces=face, edges=[], length=self.size[AXES[along]], start=tuple(start), end=tuple(end)
            )
            views.append(
                View(
                    direction=unit(d), kind="outside_profile", reachable=True, reach_share=1.0, top=self.level(d),
                    bottom=self.level(d) - depth, depth=depth, through=True, bottom_condition="through", sides=[wall],
                    open_sides=0, closed_sides=1, region_area=0.0,
                )
            )  # fmt: skip
        return self.add(
            Feature(id=self.id(), kind="planar_face", faces=face, bottom=face, views=views, because=["test"])
        )

    def hole(self, side, at, diameter, depth=None, inside=(), directions=None, top=None, pattern=None):
        """A round hole drilled from a side, through when no depth is given; `at` in the other two axes' order."""
        through = depth is None
        whole = self.size[AXES[side[1]]]
        depth = whole if through else depth
        top = self.level(side) if top is None else top
        faces = self.new_faces(1 if through else 2)
        dirs = directions or ([side, opposite(side)] if through else [side])
        condition = "through" if through else "conical"
        views = []
        for d in dirs:
            t, b = (top, top - depth) if d == side else (depth - top, -top)
            r = diameter / 2
            ring = self.outline(d, (at[0] - r, at[1] - r), (at[0] + r, at[1] + r), b)
            views.append(
                View(
                    direction=unit(d), kind="round_hole", reachable=True, reach_share=1.0, top=t, bottom=b, depth=depth,
                    through=through, bottom_condition=condition, length=diameter, width=diameter, outline=[ring],
                    region_area=3.14159265 * r * r, closed_sides=1,
                )
            )  # fmt: skip
        others = [a for a in "xyz" if a != side[1]]
        mouth = [0.0] * 3
        mouth[AXES[others[0]]], mouth[AXES[others[1]]] = at
        mouth[AXES[side[1]]] = top if side[0] == "+" else -top
        step = HoleStep(
            surface="cylinder", diameter=diameter, end_diameter=diameter, top=top, bottom=top - depth, faces=faces[:1]
        )
        return self.add(
            Feature(
                id=self.id(), kind="round_hole", faces=faces, bottom=faces[1:], walls=faces[:1], bottom_condition=condition,
                views=views, dimensions={"diameter": diameter, "depth": depth}, steps=[step],
                axis=Axis(origin=tuple(mouth), direction=unit(side)), inside=list(inside), pattern=pattern,
                removal_volume=3.14159 * diameter**2 / 4 * depth, because=["test"],
            )
        )  # fmt: skip

    def pocket(self, side, low, high, depth, corner=6.0, inside=(), top=None, directions=None, kind="closed_pocket"):
        """A rectangular closed pocket with round corners and a sharp floor."""
        faces = self.new_faces(9)
        top = self.level(side) if top is None else top
        e = [high[0] - low[0], high[1] - low[1]]
        ring = self.outline(side, low, high, top - depth)
        sides = [
            Side(open=False, faces=[faces[1 + i]], edges=[], length=e[i % 2], start=ring[i], end=ring[(i + 1) % 4])
            for i in range(4)
        ]
        view = View(
            direction=unit(side), kind=kind, reachable=True, reach_share=1.0, top=top, bottom=top - depth, depth=depth,
            bottom_condition="planar", profile="rectangular_closed", sides=sides, closed_sides=4, length=max(e), width=min(e),
            region_area=e[0] * e[1], outline=[ring], corner_radius=corner, corner_count=4, floor_radius=0.0,
            narrowest_gap=min(e), largest_cutter=min(e),
        )  # fmt: skip
        return self.add(
            Feature(
                id=self.id(), kind=kind, faces=faces, bottom=faces[:1], walls=faces[1:], bottom_condition="planar",
                profile="rectangular_closed", closed_sides=4, views=[view], inside=list(inside),
                dimensions={"length": max(e), "width": min(e), "depth": depth}, removal_volume=e[0] * e[1] * depth,
                because=["test"],
            )
        )  # fmt: skip

    def unreachable(self, kind="undercut"):
        faces = self.new_faces(1)
        view = View(
            direction=unit("+z"), kind=kind, reachable=False, reach_share=0.0, blocked_by=[0], top=10, bottom=5, depth=5
        )
        return self.add(Feature(id=self.id(), kind=kind, faces=faces, views=[view], because=["test"]))

    def void(self):
        return self.add(Feature(id=self.id(), kind="enclosed_void", faces=self.new_faces(1), because=["test"]))

    def edge(self, faces, directions, length=10.0):
        e = Edge(
            index=len(self.edges), faces=faces, length=length, angle=90.0, start=(0, 0, 0), end=(length, 0, 0),
            directions=[unit(d) for d in directions], levels=[self.level(d) for d in directions],
        )  # fmt: skip
        self.edges.append(e)
        return e.index

    def feature(self, name):
        return next(f for f in self.features if f.id == name)

    def document(self):
        volume = self.size[0] * self.size[1] * self.size[2]
        box = Box(min=(0, 0, 0), max=self.size)
        owner = {i: f.id for f in self.features for i in f.faces}
        return FeaturesDocument(
            part=Part(
                file="hand-built", sha256="0" * 64, unit="mm", bounding_box=box, volume=volume, solids=1, frame=self.frame,
                frame_box=box,
            ),
            faces=[Face(index=i, step_id=None, surface="plane", area=self.areas.get(i, 1000.0), feature=owner.get(i))
                   for i in range(self.faces)],
            features=self.features, edges=self.edges,
            closure=Closure(stock_volume=volume, part_volume=volume, removed=0, unexplained=0, method="hand-built"),
        )  # fmt: skip


def bracket():
    """A block with a pocket, four equal holes in its floor, two through holes, and a cross hole from -y."""
    block = Block()
    top = block.side_faces["+z"]
    pocket = block.pocket("+z", (20, 10), (80, 50), 10, inside=[top])
    for at in ((30, 20), (70, 20), (30, 40), (70, 40)):
        block.hole("+z", at, 5.0, depth=10, inside=[pocket], top=10.0, directions=["+z"])
    for at in ((8, 8), (92, 52)):
        block.hole("+z", at, 8.5, inside=[top])
    block.hole("-y", (50, 5), 6.0, depth=8, inside=[block.side_faces["-y"]])
    block.edge((block.feature(top).faces[0], block.feature(block.side_faces["-y"]).faces[0]), ["+z", "-y"], 100.0)
    block.edge(
        (block.feature(block.side_faces["-z"]).faces[0], block.feature(block.side_faces["-y"]).faces[0]),
        ["-z", "-y"],
        100.0,
    )
    return block
