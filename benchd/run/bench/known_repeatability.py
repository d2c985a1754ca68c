"""What was found when this bench was repeated, for the log of a run that begins now."""

from __future__ import annotations

from benchd.instruments.meter import MeterIdentity
from benchd.profile import profile_store as library
from benchd.profile.made_files import RepeatabilityFile, repeatability_path
from benchd.run.log.records import Body


def load_repeated(bench: str) -> RepeatabilityFile | None:
    """What is kept of ``bench``; None where it was never repeated. Raises `InputError` for a file that is not right."""
    path = repeatability_path(bench)
    return library.load_repeatability(library.read_text(path), str(path)) if path.is_file() else None


def repeated_head(found: RepeatabilityFile | None, meter: MeterIdentity) -> Body | None:
    """It as the first record of a log keeps it; None where it was found with another meter than answers now."""
    if found is None or not found.is_for(model=meter.model, serial_number=meter.serial_number):
        return None
    return found.head()
