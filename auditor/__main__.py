"""Run the command: as ``auditor``, or with ``python -m auditor``."""

import gc
from typing import NoReturn


def collect_seldom() -> None:
    """Look for garbage seldom: what is loaded stays, and looking for it there takes a tenth."""
    gc.set_threshold(20_000, 20, 20)


def main() -> NoReturn:
    """Load the command line and run it."""
    collect_seldom()
    # not above: every worker process imports this module once more, and needs no command line
    from auditor.cli import main as run  # noqa: PLC0415

    run()


if __name__ == "__main__":
    main()
