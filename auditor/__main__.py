"""Run the command with ``python -m auditor``."""

if __name__ == "__main__":
    # not above: every worker process imports this module once more, and needs no command line
    from auditor.cli import main

    main()
