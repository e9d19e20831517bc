"""``python -m coach`` and the ``coach`` command."""

import gc
import os
import sys

# Objects before garbage is looked for. Nearly all that a start makes is kept: looking for garbage
# among it every 700 objects, as is usual, takes a tenth of the start.
GARBAGE_AFTER = 50_000


def main() -> None:
    """Run the command line and exit with its code."""
    gc.set_threshold(GARBAGE_AFTER)
    # Read at the first model: without it all installed packages are searched for plugins.
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")

    from coach.cli import run

    sys.exit(run(sys.argv[1:]))


if __name__ == "__main__":
    main()
