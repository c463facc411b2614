"""What the text of a STEP file gives away before the kernel sees it. No kernel here."""

from __future__ import annotations

from pathlib import Path

import pytest

from recognizer.stepfile import MAX_NESTING, MAX_WORD, read_text
from shared.errors import NotStep

HEAD = "ISO-10303-21;\nHEADER;\nFILE_SCHEMA(('AUTOMOTIVE_DESIGN { 1 0 10303 214 1 1 1 1 }'));\nENDSEC;\nDATA;\n"
TAIL = "ENDSEC;\nEND-ISO-10303-21;\n"
SOUND = "#1 = CLOSED_SHELL('',(#2));\n#2 = ADVANCED_FACE('',(#3),#4,.T.);\n#3 = LOOP('');\n#4 = PLANE('',$);\n"
STEP_FILES = sorted((Path(__file__).parents[2] / "models").glob("*.step"))
SHARED = Path(__file__).parents[3] / "shared" / "benchmarks" / "nist"


def file_with(folder: Path, data: str, head: str = HEAD, tail: str = TAIL) -> Path:
    path = folder / "part.step"
    path.write_text(head + data + tail)
    return path


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty"),
        (b"hello", "does not begin with ISO-10303-21"),
        (b"solid cube\nfacet normal 0 0 1", "triangle mesh"),
        (b"PK\x03\x04rest", "zip archive"),
        ("ISO-10303-21;".encode("utf-16"), "UTF-16"),
        ((HEAD + SOUND).encode(), "truncated"),
        ((HEAD + TAIL).encode(), "data section is empty"),
        ((HEAD.replace("HEADER;", "") + SOUND + TAIL).encode(), "HEADER or DATA section"),
        ((HEAD.replace("ENDSEC;", "") + SOUND + TAIL).encode(), "HEADER or DATA section|data section is empty"),
        ((HEAD.replace("DATA;", "") + SOUND + TAIL).encode(), "HEADER or DATA section"),
        (("ISO-10303-21;\n" + HEAD + SOUND + TAIL).encode(), "HEADER or DATA section"),
    ],
)
def test_what_is_no_step_file_is_named_with_a_hint(tmp_path: Path, content: bytes, words: str) -> None:
    path = tmp_path / "part.step"
    path.write_bytes(content)
    with pytest.raises(NotStep, match=words) as caught:
        read_text(path)
    assert caught.value.hint


def test_comments_and_blanks_between_sections_are_no_damage(tmp_path: Path) -> None:
    """ISO 10303-21: comments may stand wherever blanks may; edition 2 lets a data section carry names. A comment may be long,
    and so may what stands between two strings."""
    head = HEAD.replace("HEADER;", "/* made; by hand */ HEADER ;").replace("DATA;", "/* x */ DATA ('part',('SCHEMA'));")
    far = f"/*{'c' * 20_000}*/ #5 = X({'1.,' * 10_000}'\u00e4');\n"
    assert len(read_text(file_with(tmp_path, SOUND + far, head)).records.ids) == 5


@pytest.mark.parametrize(
    ("data", "words", "where"),
    [
        (SOUND.replace("#4,.T.", "#77,.T."), "refers to #77, which is not there", "#2"),
        (SOUND.replace("'',(#3)", "'',(#2)"), "refers to itself", "#2"),
        (SOUND.replace("LOOP('')", "LOOP('',#1)"), "in a circle", "#1"),
        (SOUND + "#5 = CARTESIAN_POINT('',(0.,NaN,1.));\n", "not finite", "#5"),
        (SOUND + "#5 = CARTESIAN_POINT('',(0.,-inf,1.));\n", "not finite", "#5"),
        (SOUND + "#5 = CARTESIAN_POINT('',(0.,1.#QNAN,1.));\n", "not finite", "#5"),
        (SOUND + "#5 = CARTESIAN_POINT('',(0.,1.E+400,1.));\n", "not finite", "#5"),
        (SOUND + f"#5 = X({'(' * 100}1{')' * 100});\n", "deep", ""),
        (SOUND + "#5 = X((1);\n", "do not pair up", ""),
        (SOUND + "/* on and on\n", "never ends", ""),
        (SOUND.replace("LOOP('')", "LOOP(''\u00e9)"), "outside its strings", ""),
        (SOUND + f"#5 = X('{'x' * (MAX_WORD + 1)}');\n", "which the kernel cannot read", ""),
        (SOUND + f"#5 = X({'1' * (MAX_WORD + 1)}.);\n", "which the kernel cannot read", ""),
    ],
)
def test_damage_is_found_and_its_record_named(tmp_path: Path, data: str, words: str, where: str) -> None:
    with pytest.raises(NotStep, match=words) as caught:
        read_text(file_with(tmp_path, data))
    assert caught.value.where == where


@pytest.mark.parametrize(
    "harmless",
    [
        "#5 = DESCRIPTIVE_REPRESENTATION_ITEM('see #99 (and (NaN','it''s inf)');\n",
        "/* a comment: #99 ((( NaN */\n#5 = X(1.E-400, 1.E+300, .NAN., INFO);\n",
        "#5 = STYLED_ITEM('',(#98),#99);\n",  # colours may dangle: the shape does not need them
        f"#5 = X({'(' * (MAX_NESTING - 10)}1{')' * (MAX_NESTING - 10)});\n",
        "#5\n=\nX( #1 ,\n #2 );\n",
    ],
)
def test_look_alikes_are_let_through(tmp_path: Path, harmless: str) -> None:
    assert read_text(file_with(tmp_path, SOUND + harmless)).records.ids.tolist() == [1, 2, 3, 4, 5]


def test_byte_order_mark_and_blank_lines_before_the_start_do_not_matter(tmp_path: Path) -> None:
    path = file_with(tmp_path, SOUND, head="\ufeff\n  " + HEAD)
    assert read_text(path).data.startswith(b"ISO-10303-21")


def test_a_file_over_the_size_limit_is_refused_unread(tmp_path: Path) -> None:
    with pytest.raises(NotStep, match="limit"):
        read_text(file_with(tmp_path, SOUND), max_bytes=100)


@pytest.mark.parametrize(
    ("schema", "protocol"),
    [
        ("AUTOMOTIVE_DESIGN { 1 0 10303 214 1 1 1 1 }", "AP214"),
        ("CONFIG_CONTROL_DESIGN", "AP203"),
        ("AP203_CONFIGURATION_CONTROLLED_3D_DESIGN_OF_MECHANICAL_PARTS_AND_ASSEMBLIES_MIM_LF { 1 0 10303 403 2 1 2 }", "AP203"),
        ("AP242_MANAGED_MODEL_BASED_3D_ENGINEERING_MIM_LF { 1 0 10303 442 1 1 4 }", "AP242"),
        ("MY_OWN_SCHEMA", "MY_OWN_SCHEMA"),
    ],
)  # fmt: skip
def test_application_protocol_is_read_from_the_header(tmp_path: Path, schema: str, protocol: str) -> None:
    # Schema names and object identifiers: ISO 10303-203, -214, -242
    head = HEAD.replace("AUTOMOTIVE_DESIGN { 1 0 10303 214 1 1 1 1 }", schema)
    assert read_text(file_with(tmp_path, SOUND, head=head)).protocol == protocol


@pytest.mark.parametrize("path", STEP_FILES, ids=lambda p: p.stem)
def test_no_false_alarm_on_the_demo_parts(path: Path) -> None:
    assert len(read_text(path).records.ids) > 100


def test_no_false_alarm_on_files_of_another_program() -> None:
    if not SHARED.is_dir():
        pytest.skip("../shared/benchmarks/nist is not beside this repository")
    for path in sorted(SHARED.glob("*.stp")):
        assert read_text(path).protocol == "AP203"
