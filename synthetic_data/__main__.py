"""Write the demo academy's files: ``python -m synthetic_data [FOLDER]``."""

import sys
from pathlib import Path

from synthetic_data.writing import demo_paths, make_demo, write_academy


def main(arguments: list[str]) -> int:
    """Write the three files, into the committed place unless a folder is given."""
    if len(arguments) > 1 or any(a.startswith("-") for a in arguments):
        print("usage: python -m synthetic_data [FOLDER]", file=sys.stderr)
        return 2
    folder = Path(arguments[0]) if arguments else demo_paths().shots.parent
    for path in write_academy(make_demo(), folder):
        print(path)
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
