"""The entry point: ``benchd``, and ``python -m benchd``. Before all else Ctrl-C is answered: imports take a while."""

from benchd import interrupt

interrupt.install()


def main() -> int:
    """Run the command that the command line names; its exit status."""
    try:
        from benchd.cli import main as run

        return run()
    finally:
        interrupt.is_over()


if __name__ == "__main__":
    raise SystemExit(main())
