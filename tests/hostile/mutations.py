"""Good STEP texts spoilt in many ways, by seed: the same seed gives the same bytes.

Each mutation takes the text and a random.Random and returns bytes. MUTATIONS names them all.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Callable
from random import Random

from tests.hostile.shapes import SHAPE_MUTATIONS

RECORD = re.compile(r"^#(\d+)\s*=\s*([A-Z0-9_]+)?\s*\(.*?\);\s*?$", re.M | re.S)
NUMBER = re.compile(r"(?<![#\w.])-?\d+\.\d*(?:E[+-]?\d+)?")
REFERENCE = re.compile(r"#\d+")
WRONG_NUMBERS = (
    "NaN",
    "-NaN",
    "INF",
    "1.E308",
    "-1.E308",
    "1.E999",
    "1.E-320",
    "0.",
    "-0.",
    "1e",
    "9" * 400 + ".",
    "$",
    "*",
)
WRONG_VALUES = (
    "'text'",
    ".T.",
    "$",
    "*",
    "#1",
    "()",
    "(((1.)))",
    "3",
    "-1.E30",
    ".UNKNOWN.",
    '"0FF"',
    "#0",
    "#99999999999",
)

Mutation = Callable[[str, Random], bytes]


def _records(text: str, random: Random, count: int) -> list[re.Match[str]]:
    found = list(RECORD.finditer(text))
    return sorted(random.sample(found, min(count, len(found))), key=lambda m: -m.start())


def _replace(text: str, match: re.Match[str], new: str) -> str:
    return text[: match.start()] + new + text[match.end() :]


def truncated(text: str, random: Random) -> bytes:
    """Ends anywhere."""
    return text[: random.randrange(len(text))].encode()


def flipped_bytes(text: str, random: Random) -> bytes:
    """A few bytes changed at random."""
    data = bytearray(text.encode())
    for _ in range(random.choice((1, 2, 5, 20, 200))):
        data[random.randrange(len(data))] = random.randrange(256)
    return bytes(data)


def deleted_records(text: str, random: Random) -> bytes:
    """Records left out, so that others refer to nothing."""
    for match in _records(text, random, random.choice((1, 1, 3, 10))):
        text = _replace(text, match, "")
    return text.encode()


def swapped_records(text: str, random: Random) -> bytes:
    """Two records trade their numbers: references lead to records of another kind."""
    two = _records(text, random, 2)
    later, earlier = two[0], two[1]
    a, b = (m.group(0).split("=", 1) for m in (later, earlier))
    text = _replace(text, later, f"{a[0]}={b[1]}")
    return _replace(text, earlier, f"{b[0]}={a[1]}").encode()


def repeated_records(text: str, random: Random) -> bytes:
    """Records written twice under one number, the second of another kind."""
    match, other = _records(text, random, 2)
    again = f"#{match.group(1)} = {other.group(0).split('=', 1)[1]}"
    return (text[: match.end()] + "\n" + again + text[match.end() :]).encode()


def self_references(text: str, random: Random) -> bytes:
    """Records that refer to themselves."""
    for match in _records(text, random, random.choice((1, 3))):
        head, _, body = match.group(0).partition("=")
        text = _replace(text, match, f"{head}={REFERENCE.sub('#' + match.group(1), body, count=random.choice((0, 1)))}")
    return text.encode()


def cycles(text: str, random: Random) -> bytes:
    """Records that refer to a record that refers to them."""
    for match in _records(text, random, 40):
        refs = REFERENCE.findall(match.group(0).partition("=")[2])
        if refs:
            target = re.search(rf"^{refs[0]}\s*=.*?;", text, re.M | re.S)
            if target and REFERENCE.search(target.group(0).partition("=")[2]):
                head, _, body = target.group(0).partition("=")
                return _replace(text, target, f"{head}={REFERENCE.sub('#' + match.group(1), body, count=1)}").encode()
    return text.encode()


def crossed_references(text: str, random: Random) -> bytes:
    """References that lead elsewhere."""
    numbers = [m.group(1) for m in RECORD.finditer(text)]
    for match in _records(text, random, random.choice((1, 2, 5))):
        head, _, body = match.group(0).partition("=")
        text = _replace(text, match, f"{head}={REFERENCE.sub('#' + random.choice(numbers), body, count=1)}")
    return text.encode()


def deep_nesting(text: str, random: Random) -> bytes:
    """Brackets in brackets, or chains of placements, a hundred to a hundred thousand deep."""
    depth = random.choice((100, 1_000, 10_000, 100_000))
    if random.random() < 0.5:
        match = _records(text, random, 1)[0]
        head, bracket, body = match.group(0).partition("(")
        return _replace(text, match, head + bracket + "(" * depth + ")" * depth + "," + body).encode()
    start = 1_000_000
    chain = "\n".join(
        f"#{start + n} = SHAPE_REPRESENTATION('',(#{start + n + 1}),#{start + n + 1});" for n in range(depth)
    )
    shape = re.search(r"(SHAPE_DEFINITION_REPRESENTATION\s*\(\s*#\d+\s*,\s*)#\d+", text)
    if shape:
        text = _replace(text, shape, f"{shape.group(1)}#{start}")
    return text.replace("ENDSEC;\nEND-ISO", chain + "\nENDSEC;\nEND-ISO").encode()


def wrong_numbers(text: str, random: Random) -> bytes:
    """Numbers that are none, or that nothing can hold."""
    found = list(NUMBER.finditer(text))
    for match in sorted(random.sample(found, min(len(found), random.choice((1, 1, 3, 30)))), key=lambda m: -m.start()):
        text = _replace(text, match, random.choice(WRONG_NUMBERS))
    return text.encode()


def scaled_numbers(text: str, random: Random) -> bytes:
    """Coordinates, radii or directions off by a little, by a sign or by much: solids that cross or do not close."""
    found = list(NUMBER.finditer(text))
    change = random.choice((lambda v: -v, lambda v: v * 1e6, lambda v: v + 0.5, lambda v: v + 1e-3, lambda v: 0.0))
    for match in sorted(random.sample(found, min(len(found), random.choice((1, 2, 8)))), key=lambda m: -m.start()):
        text = _replace(text, match, _written(change(float(match.group(0)))))
    return text.encode()


def _written(value: float) -> str:
    text = repr(value).upper()
    return text if "." in text else text.replace("E", ".E") if "E" in text else text + "."


def wrong_types(text: str, random: Random) -> bytes:
    """Values of another type."""
    for match in _records(text, random, random.choice((1, 3))):
        pieces = re.split(r"(?<=[(,])([^(),]*)(?=[),])", match.group(0))
        if len(pieces) > 2:
            pieces[random.randrange(len(pieces) // 2) * 2 + 1] = random.choice(WRONG_VALUES)
        text = _replace(text, match, "".join(pieces))
    return text.encode()


def wrong_names(text: str, random: Random) -> bytes:
    """Records of another or an unknown type."""
    names = sorted({m.group(2) for m in RECORD.finditer(text) if m.group(2)})
    for match in _records(text, random, random.choice((1, 3))):
        if match.group(2):
            new = random.choice([*names, "NO_SUCH_THING", "A" * 5000, ""])
            text = _replace(text, match, match.group(0).replace(match.group(2), new, 1))
    return text.encode()


def turned_senses(text: str, random: Random) -> bytes:
    """Orientation flags turned: faces inside out, edges backwards."""
    found = list(re.finditer(r"\.[TF]\.", text))
    for match in sorted(random.sample(found, min(len(found), random.choice((1, 2, 10)))), key=lambda m: -m.start()):
        text = _replace(text, match, ".F." if match.group(0) == ".T." else ".T.")
    return text.encode()


def shells_changed(text: str, random: Random) -> bytes:
    """Faces missing from the shell, or twice in it."""
    match = re.search(r"(CLOSED_SHELL\('[^']*',\()([^)]*)", text)
    if not match:
        return text.encode()
    faces = match.group(2).split(",")
    pick = random.randrange(len(faces))
    faces = random.choice((faces[:pick] + faces[pick + 1 :], [*faces, faces[pick]], [faces[pick]], faces[::2]))
    return _replace(text, match, match.group(1) + ",".join(faces)).encode()


def wrong_encodings(text: str, random: Random) -> bytes:
    """Another encoding, zero bytes, byte order marks, control characters."""
    return random.choice(
        (
            lambda: text.encode("utf-16"),
            lambda: text.encode("utf-32"),
            lambda: b"\xef\xbb\xbf" + text.encode(),
            lambda: text.encode("cp037", "replace"),
            lambda: text.replace("'", "'\u00e9\u4e2d\u202e", 40).encode(),
            lambda: text.replace("'", "'\xff\xfe", 10).encode("latin-1", "replace"),
            lambda: text.replace(";", ";\0", 30).encode(),
            lambda: text.replace("\n", "\r").encode(),
        )
    )()


def sections_missing(text: str, random: Random) -> bytes:
    """A header, a section or an end is missing or stands twice."""
    word = random.choice(("ISO-10303-21;", "HEADER;", "ENDSEC;", "DATA;", "END-ISO-10303-21;", "FILE_SCHEMA"))
    return random.choice((text.replace(word, "", 1), text.replace(word, word + "\n" + word, 1))).encode()


def garbage(text: str, random: Random) -> bytes:
    """Noise before, behind or instead."""
    noise = random.randbytes(random.choice((10, 1000, 100_000)))
    return random.choice((noise + text.encode(), text.encode() + noise, noise, b"", b"ISO-10303-21;" + noise))


def monsters(text: str, random: Random) -> bytes:
    """Lists of a hundred thousand, strings of a megabyte, numbers of a thousand digits."""
    match = _records(text, random, 1)[0]
    head, bracket, body = match.group(0).partition("(")
    extra = random.choice(
        ("(" + ",".join(["#1"] * 100_000) + "),", "'" + "x" * 1_000_000 + "',", "1" * 1000 + ".,", "''," * 50_000)
    )
    return _replace(text, match, head + bracket + extra + body).encode()


def packed(text: str, random: Random) -> bytes:
    """An archive under a STEP file's name, or one that unpacks to much more than it is."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        inside = zipfile.ZipInfo(random.choice(("a.step", "../../a.step", "/a.step")))  # its date is always the same
        archive.writestr(inside, random.choice((text, "0" * 20_000_000)), zipfile.ZIP_DEFLATED)
    return out.getvalue()


MUTATIONS: dict[str, Mutation] = {
    m.__name__: m
    for m in (
        truncated, flipped_bytes, deleted_records, swapped_records, repeated_records, self_references, cycles,
        crossed_references, deep_nesting, wrong_numbers, scaled_numbers, wrong_types, wrong_names, turned_senses,
        shells_changed, wrong_encodings, sections_missing, garbage, monsters, packed, *SHAPE_MUTATIONS,
    )
}  # fmt: skip


def mutant(text: str, number: int) -> tuple[str, bytes]:
    """The mutation's name and the bytes of mutant `number` of a good text."""
    name = list(MUTATIONS)[number % len(MUTATIONS)]
    random = Random(f"{name} {number}")
    return name, MUTATIONS[name](text, random)
