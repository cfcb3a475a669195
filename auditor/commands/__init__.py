"""Floor 5: one command a file, one line in :mod:`auditor.cli`.

Everything heavy is imported inside the command that needs it: help answers at once.
"""
