"""Run the command with ``python -m auditor``."""

from auditor.cli import main

if __name__ == "__main__":
    main()
