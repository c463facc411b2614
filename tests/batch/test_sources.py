"""What a batch finds in folders, globs and archives, and what it makes of hostile ones."""

from __future__ import annotations

import os
import zipfile
from pathlib import Path

import pytest

from service.batch.sources import BadArchive, TooLarge, sources_of
from shared.errors import UsageError

STEP = b"ISO-10303-21;\n"


def keys(*paths: Path | str) -> list[str]:
    return [s.key for s in sources_of([str(p) for p in paths])]


def test_a_folder_is_searched_to_its_depth_and_only_for_step_files_and_archives(tmp_path: Path) -> None:
    inner = tmp_path / "mount" / "deep"
    inner.mkdir(parents=True)
    for name in ("a.step", "b.STP", "c.p21", "notes.txt"):
        (inner / name).write_bytes(STEP)
    with zipfile.ZipFile(tmp_path / "mount" / "more.zip", "w") as archive:
        archive.writestr("d.step", STEP)
        archive.writestr("readme.md", b"")
    assert keys(tmp_path / "mount") == [
        "mount/deep/a.step", "mount/deep/b.STP", "mount/deep/c.p21", "mount/more.zip/d.step",
    ]  # fmt: skip


def test_the_same_file_named_twice_is_one_part(tmp_path: Path) -> None:
    (tmp_path / "a.step").write_bytes(STEP)
    assert keys(tmp_path / "a.step", f"{tmp_path}/*.step", tmp_path) == ["a.step"]


def test_different_files_of_one_name_keep_their_own_results(tmp_path: Path) -> None:
    for folder in ("x", "y"):
        (tmp_path / folder).mkdir()
        (tmp_path / folder / "a.step").write_bytes(STEP)
    assert keys(tmp_path / "x" / "a.step", tmp_path / "y" / "a.step") == ["a.step", "a~2.step"]


@pytest.mark.parametrize("name", ["../../evil.step", "/etc/evil.step", "C:\\x\\..\\evil.step", "a/./b/../evil.step"])
def test_no_name_in_an_archive_leads_out_of_the_results(tmp_path: Path, name: str) -> None:
    with zipfile.ZipFile(tmp_path / "parts.zip", "w") as archive:
        archive.writestr(name, STEP)
    (source,) = sources_of([str(tmp_path / "parts.zip")])
    results = (tmp_path / "results").resolve()
    assert (results / source.key).resolve().is_relative_to(results / "parts.zip")
    assert source.read(1000) == STEP


def test_an_archive_that_unpacks_to_more_than_the_limit_is_refused_without_unpacking_it(tmp_path: Path) -> None:
    with zipfile.ZipFile(tmp_path / "bomb.zip", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("bomb.step", bytes(50_000_000))
    assert (tmp_path / "bomb.zip").stat().st_size < 100_000
    (source,) = sources_of([str(tmp_path / "bomb.zip")])
    with pytest.raises(TooLarge, match="larger than 1 MB"):
        source.read(1_000_000)


def test_a_header_that_lies_about_the_size_is_not_believed(tmp_path: Path) -> None:
    path = tmp_path / "liar.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("liar.step", bytes(3_000_000))
    data = path.read_bytes()
    path.write_bytes(data.replace((3_000_000).to_bytes(4, "little"), (10).to_bytes(4, "little")))
    (source,) = sources_of([str(path)])
    with pytest.raises((TooLarge, BadArchive)):
        source.read(1_000_000)


def test_a_broken_archive_is_a_part_that_ends_in_an_error(tmp_path: Path) -> None:
    (tmp_path / "broken.zip").write_bytes(b"PK\x03\x04 and then nothing")
    (source,) = sources_of([str(tmp_path / "broken.zip")])
    with pytest.raises(BadArchive):
        source.read(1000)


def test_nothing_to_do_is_said(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="no STEP file"):
        sources_of([str(tmp_path)])
    with pytest.raises(UsageError, match="no file or folder"):
        sources_of([str(tmp_path / "missing.step")])


def test_names_that_are_no_utf8_become_keys_that_documents_can_hold(tmp_path: Path) -> None:
    """As old disks and archives have them: a Latin-1 name among UTF-8 ones."""
    for name in (b"L\xdctz.step", b"L\xfctz.step"):
        (tmp_path / os.fsdecode(name)).write_text("x")
    found = keys(tmp_path)
    assert [key.rpartition("/")[2] for key in found] == ["L_tz.step", "L_tz~2.step"]
    assert all(key.encode() for key in found)
