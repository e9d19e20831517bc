"""``python -m coach`` and the ``coach`` command."""

import sys


def main() -> None:
    """Run the command line and exit with its code."""
    from coach.cli import run

    sys.exit(run(sys.argv[1:]))


if __name__ == "__main__":
    main()
