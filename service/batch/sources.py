"""What a batch works on: files, folders, globs and zip archives -> sources in a fixed order."""

from __future__ import annotations

import glob
import re
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from shared.errors import NotStep, SidewiseError, UnusableFile, UsageError
from shared.names import readable

STEP_ENDINGS = (".step", ".stp", ".p21")
ARCHIVE_ENDING = ".zip"
MAX_MEMBERS = 100_000
"""Members of one archive; more is no folder of parts but an attack on the one who lists it."""


class TooLarge(UnusableFile):
    """The file is larger than the limit, packed or unpacked."""

    code = "too_large"


class BadArchive(UnusableFile):
    """The archive cannot be read."""

    code = "bad_archive"


@dataclass(frozen=True)
class Source:
    """One part to work on.

    key: its name in the results, a relative path that is safe to make folders of. member: its name in the archive at
    `path`. error: why nothing can be read here (a broken archive is a source too, so that it is not passed over).
    """

    key: str
    path: Path
    member: str | None = None
    error: SidewiseError | None = None

    def read(self, max_bytes: int) -> bytes:
        """Bytes of the STEP file. Raises TooLarge, BadArchive, NotStep or the source's own error."""
        if self.error:
            raise self.error
        if self.member is not None:
            return _member(self.path, self.member, max_bytes)
        try:
            with self.path.open("rb") as file:
                return _within(file.read(max_bytes + 1), max_bytes)
        except OSError as error:
            raise NotStep(f"The file cannot be read: {error.strerror}.", "Check its permissions.") from None


def _within(data: bytes, max_bytes: int) -> bytes:
    if len(data) > max_bytes:
        raise TooLarge(
            f"The file is larger than {max_bytes / 1e6:g} MB.", "Allow more with --max-size MB, or split the model."
        )
    return data


def _member(path: Path, member: str, max_bytes: int) -> bytes:
    """A member of an archive. What its header says of its size is not believed: reading stops at the limit."""
    try:
        with zipfile.ZipFile(path) as archive, archive.open(member) as file:
            data = file.read(max_bytes + 1)
    except Exception as error:  # each way of packing has errors of its own, and damaged archives raise most of them
        hint = "Pack the archive again, without a password."
        raise BadArchive(f"{member} cannot be unpacked: {error}.", hint) from None
    return _within(data, max_bytes)


def sources_of(paths: list[str]) -> list[Source]:
    """All parts that `paths` name, each once, with keys that differ. Raises UsageError where there are none."""
    found: dict[tuple[Path, str | None], Source] = {}
    for text in paths:
        for source in _named(text):
            found.setdefault((source.path.resolve(), source.member), source)
    if not found:
        raise UsageError(
            "There is no STEP file in what was named.",
            f"Name files, folders, globs or zip archives with {', '.join(STEP_ENDINGS)} files.",
            ", ".join(paths),
        )
    return _with_own_keys(list(found.values()))


def _named(text: str) -> Iterator[Source]:
    path = Path(text)
    if path.is_dir():
        yield from _folder(path)
    elif path.exists():
        yield from _file(path, _safe(path.name))
    elif glob.has_magic(text):
        for match in sorted(glob.glob(text, recursive=True)):
            if not Path(match).is_dir():
                yield from _file(Path(match), _safe(match))
    else:
        raise UsageError(f"There is no file or folder {text}.", "Check the spelling.", text)


def _folder(folder: Path) -> Iterator[Source]:
    base = folder.resolve()
    for path in sorted(folder.rglob("*")):
        if path.is_file() and path.suffix.lower() in (*STEP_ENDINGS, ARCHIVE_ENDING):
            yield from _file(path, _safe(f"{base.name}/{path.relative_to(folder).as_posix()}"))


def _file(path: Path, key: str) -> Iterator[Source]:
    if path.suffix.lower() != ARCHIVE_ENDING:
        yield Source(key, path)
        return
    try:
        with zipfile.ZipFile(path) as archive:
            names = [i.filename for i in archive.infolist() if not i.is_dir()]
    except (zipfile.BadZipFile, OSError, EOFError, ValueError, NotImplementedError) as error:
        yield Source(key, path, error=BadArchive(f"The archive cannot be opened: {error}.", "Pack it again."))
        return
    if len(names) > MAX_MEMBERS:
        yield Source(key, path, error=TooLarge(f"The archive holds {len(names)} files.", "Split it."))
        return
    for name in sorted(set(names)):
        if PurePosixPath(name).suffix.lower() in STEP_ENDINGS:
            yield Source(f"{key}/{_safe(name)}", path, name)


def _safe(name: str) -> str:
    """A relative path that stays below the folder it is put in, whatever `name` tries."""
    pieces = [re.sub(r'[\x00-\x1f\x7f<>:"|?*]', "_", p).strip() for p in re.split(r"[/\\]", readable(name))]
    kept = [p[:120] for p in pieces if p not in ("", ".", "..")]
    return "/".join(kept) or "unnamed"


def _with_own_keys(sources: list[Source]) -> list[Source]:
    """Sources whose keys differ, also where the disk takes capitals and small letters for the same."""
    taken: set[str] = set()
    out = []
    for source in sources:
        key, n = source.key, 1
        while key.casefold() in taken:
            n += 1
            path = PurePosixPath(source.key)
            key = str(path.with_name(f"{path.stem}~{n}{path.suffix}"))
        taken.add(key.casefold())
        out.append(Source(key, source.path, source.member, source.error))
    return out
