"""The measuring is right: the class table on shapes of each class, and the scores on counted examples."""

from __future__ import annotations

import json
import zipfile
from pathlib import Path
from typing import Any

import pytest

from shared.features import Feature, FeaturesDocument, HoleStep
from tests.benchmarks import labels, scores
from tests.benchmarks.classes import class_of, segments
from tests.benchmarks.dataset import Case
from tests.benchmarks.fakes import cut, document, outline, ring, side
from tests.benchmarks.pool import Answer

FAKE = "tests.benchmarks.fakes:from_json"
PLANES = ["plane"] * 12
CORNER = [(6, 10), (6, 6), (10, 6), (10, 10)]
POLYGONS = [
    (3, True, "triangular_pocket"),
    (4, True, "rectangular_pocket"),
    (6, True, "6sides_pocket"),
    (3, False, "triangular_passage"),
    (4, False, "rectangular_passage"),
    (6, False, "6sides_passage"),
]
STEPS = [
    ([(0, 4), (10, 4), (10, 10), (0, 10)], "rectangular_through_step"),
    ([(0, 4), (10, 7), (10, 10), (0, 10)], "slanted_through_step"),
    ([(7, 10), (10, 5), (10, 10)], "triangular_blind_step"),
]
POINTED = [
    ("open_pocket", CORNER, (2, 3), "rectangular_blind_step"),
    ("open_pocket", [(0, 6), (5, 4), (10, 6), (10, 10), (0, 10)], (2, 3, 4), "2sides_through_step"),
    ("open_pocket", [(4, 10), (4, 6), (7, 6), (7, 10)], (3,), "rectangular_blind_slot"),
    ("open_pocket", [*ring(6)[:4], (9, 9)], (3, 4), "6sides_pocket"),
]
V_END = [side((4, 10), (4, 6), 0), side((4, 6), (6, 6), 1, arc=180), side((6, 6), (6, 10), 2)]
H_END = [side((3, 10), (4, 9), 0, arc=90), side((4, 9), (6, 9), 1), side((6, 9), (7, 10), 2, arc=90)]
QUARTER = [side((6, 10), (10, 6), 0, arc=90), *outline([(10, 6), (10, 10), (6, 10)], (0, 1, 2))[:2]]
OBROUND = [*V_END[:2], V_END[2], side((6, 10), (4, 10), 3, arc=180)]


@pytest.mark.parametrize(("n", "floor", "name"), POLYGONS)
def test_polygon_pockets_are_named_by_walls_and_floor(n: int, floor: bool, name: str) -> None:
    feature = cut("closed_pocket", outline(ring(n)), list(range(n + floor)), floor)
    assert class_of(feature, document(PLANES, [feature])) == name


@pytest.mark.parametrize(("points", "name"), STEPS)
def test_steps_are_named_by_where_the_wall_runs(points: list, name: str) -> None:
    feature = cut("step", outline(points, tuple(range(1, len(points)))), [0, 1], floor=True)
    assert class_of(feature, document(PLANES, [feature])) == name


@pytest.mark.parametrize(("kind", "points", "open_", "name"), POINTED)
def test_open_pockets_are_named_by_their_corners(kind: str, points: list, open_: tuple, name: str) -> None:
    feature = cut(kind, outline(points, open_), [0, 1, 2, 3], floor=True)
    assert class_of(feature, document(PLANES, [feature])) == name


@pytest.mark.parametrize(
    ("kind", "sides", "surfaces", "name"),
    [
        ("open_pocket", V_END, "pcpp", "v_circular_end_blind_slot"),
        ("open_pocket", H_END, "cpcp", "h_circular_end_blind_slot"),
        ("closed_pocket", OBROUND, "pcpcp", "circular_end_pocket"),
        ("open_pocket", QUARTER, "cp", "circular_blind_step"),
        ("open_pocket", [side((4, 9), (6, 9), 0, arc=300), side((6, 9), (4, 9), 1, open_=True)], "cp", "blind_hole"),
        ("closed_pocket", [*V_END, side((6, 10), (4, 10), 3)], "pcppp", "v_circular_end_blind_slot"),
    ],
)
def test_round_walls(kind: str, sides: list, surfaces: str, name: str) -> None:
    kinds = [{"p": "plane", "c": "cylinder"}[s] for s in surfaces]
    feature = cut(kind, sides, list(range(len(kinds))), floor=True)
    assert class_of(feature, document(kinds, [feature])) == name


def test_ring_groove() -> None:
    rings = [side((3, 5), (3.0001, 5), 0, arc=359.9), side((4, 5), (4.0001, 5), 1, arc=359.9)]
    feature = cut("closed_pocket", rings, [0, 1, 2], floor=True, islands=1)
    assert class_of(feature, document(["cylinder", "cylinder", "plane"], [feature])) == "Oring"


def test_one_wall_in_two_pieces_counts_once() -> None:
    pieces = [side((3, 3), (4, 3), 0), side((5, 3), (7, 3), 1), *outline([(7, 3), (5, 7), (3, 3)])[:2]]
    feature = cut("closed_pocket", pieces, [0, 1, 2, 3], floor=False)
    assert class_of(feature, document(PLANES, [feature])) == "triangular_passage"


def test_mouth_chamfer_of_a_hole_is_a_class_of_its_own() -> None:
    steps = [("cone", 6, 5, [1]), ("cylinder", 5, 5, [0])]
    feature = _hole("round_hole", steps, "through")
    assert [(s["class"], s["faces"]) for s in segments(document(PLANES, [feature]))] == [
        ("through_hole", [0]),
        ("chamfer", [1]),
    ]


def test_drill_point_and_countersink_stay_with_their_hole() -> None:
    drilled = _hole("round_hole", [("cylinder", 5, 5, [0]), ("cone", 5, 0, [1])], "conical")
    sunk = _hole("countersunk_hole", [("cone", 11, 5, [0]), ("cylinder", 5, 5, [1])], "through")
    for feature, name in ((drilled, "blind_hole"), (sunk, "countersunk_hole")):
        assert [(s["class"], s["faces"]) for s in segments(document(PLANES, [feature]))] == [(name, [0, 1])]


def test_kind_without_counterpart_is_never_right() -> None:
    feature = Feature(id="f1", kind="region", faces=[0], because=["fake"])
    assert class_of(feature, document(PLANES, [feature])) == "unmapped:region"


def _hole(kind: str, steps: list, bottom: str) -> Feature:
    rows = [HoleStep(surface=s, diameter=d, end_diameter=e, top=0, bottom=0, faces=f) for s, d, e, f in steps]
    faces = sorted(f for *_, group in steps for f in group)
    given: dict[str, Any] = {"kind": kind, "bottom_condition": bottom}
    return Feature(id="f1", faces=faces, steps=rows, because=["fake"], **given)


def test_panoptic_quality_by_hand() -> None:
    # One match of IoU 2/3, one missed and one extra segment: (2/3) / (1 + 1/2 + 1/2) = 1/3.
    case = Case("x", Path("x"), ("a", "a", "a", "b", "stock"), (("a", frozenset({0, 1, 2})), ("b", frozenset({3}))))
    rows = [
        {"id": "1", "kind": "slot", "class": "a", "faces": [0, 1]},
        {"id": "2", "kind": "step", "class": "c", "faces": [3]},
    ]
    part = scores.part_score(case, Answer(faces=5, segments=rows))
    assert scores.panoptic([part]) == pytest.approx(1 / 3)
    assert part.wrong_faces == [2, 3]
    assert scores.total(scores.instance_tallies([part])) == scores.Tally(right=0, said=2, true=2)


def test_right_faces_with_another_name_are_counted_apart() -> None:
    case = Case("x", Path("x"), ("a", "a", "b"), (("a", frozenset({0, 1})), ("b", frozenset({2}))))
    rows = [
        {"id": "1", "kind": "slot", "class": "c", "faces": [0, 1]},
        {"id": "2", "kind": "step", "class": "b", "faces": [2]},
    ]
    assert scores.renamed([scores.part_score(case, Answer(faces=3, segments=rows))]) == {("a", "c"): 1}


@pytest.fixture
def dataset(tmp_path: Path) -> Path:
    """Three documents (a right, a wrong, a part with wrong face count), a crash, a hang and an error, zipped."""
    pocket = cut("closed_pocket", outline(ring(3)), [0, 1, 2, 3], floor=True)
    right: FeaturesDocument = document(PLANES[:6], [pocket])
    texts = {"a1": right.to_json(), "a2": document(PLANES[:6], []).to_json(), "b1": document(PLANES[:5], []).to_json()}
    texts |= {"b2": "crash", "b3": "hang", "b4": "raise"}
    with zipfile.ZipFile(tmp_path / "dev.zip", "w") as archive:
        for stem, text in texts.items():
            archive.writestr(f"{stem}.step", text)
    row = ["triangular_pocket"] * 4 + ["stock"] * 2
    (tmp_path / "dev_labels.json").write_text(json.dumps(dict.fromkeys(texts, row)))
    instances = {key: [["triangular_pocket", [0, 1, 2, 3]]] for key in texts}
    (tmp_path / "dev_instances.json").write_text(json.dumps(instances))
    return tmp_path


def test_command_names_failures_and_survives_crashes(dataset: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = dataset / "out.json"
    options = ["--recognizer", FAKE, "--timeout", "2", "--group-by-prefix", "--list-failures", "--json", str(out)]
    assert labels.main([str(dataset), *options]) == 0
    printed = capsys.readouterr().out
    for said in (
        "b2: worker died with exit code 11",
        "b3: no answer in 2 s",
        "b4: ValueError: no such part",
        "b1: the document has 5 faces, the labels 6",
        "face   0: triangular_pocket -> stock (no feature)",
        "missed triangular_pocket [0, 1, 2, 3]",
    ):
        assert said in printed
    figures = json.loads(out.read_text())
    everything = figures[f"{dataset.name}: all"]
    assert (everything["parts_right"], everything["parts"]) == (1, 6)
    assert (everything["faces_without_stock"]["right"], everything["faces_without_stock"]["true"]) == (4, 24)
    assert everything["stock"]["right"] == 4
    assert figures[f"{dataset.name}: prefix a"]["instances"]["right"] == 1
    assert figures[f"{dataset.name}: prefix b"]["parts_right"] == 0


def test_unpacked_folder_without_instances(dataset: Path, capsys: pytest.CaptureFixture[str]) -> None:
    zipfile.ZipFile(dataset / "dev.zip").extractall(dataset / "parts")
    (dataset / "dev_instances.json").unlink()
    (dataset / "dev.zip").unlink()
    assert labels.main([str(dataset / "parts"), "--recognizer", FAKE, "--limit", "2", "--workers", "1"]) == 0
    printed = capsys.readouterr().out
    assert "parts wholly right          1 / 2" in printed
    assert "no instance labels" in printed


def test_missing_recognizer_and_labels_are_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert labels.main([str(tmp_path), "--recognizer", "no_such_module:f"]) == 2
    assert labels.main([str(tmp_path), "--recognizer", FAKE]) == 2
    said = capsys.readouterr().err
    assert "not there yet" in said
    assert "no *labels*.json" in said
