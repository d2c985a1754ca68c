"""benchd: a plan becomes steps, patches are shown, a meter is read, a log is kept, results follow."""

__version__ = "0.1.0"
