"""Regenerate all demo parts and their records: `python -m models [PART ...]`."""

import sys

from models import PARTS, build


def main(names: list[str]) -> None:
    """Build the named parts, or all, into this folder."""
    for name in names or PARTS:
        work = build(name)
        work.save()
        print(f"{name}: {sum(entry['count'] for entry in work.features)} features")


main(sys.argv[1:])
