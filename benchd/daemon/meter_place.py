"""Where the operator has put the meter, kept on disk: the next job must not assume that it is at the centre."""

from __future__ import annotations

import logging
from contextlib import suppress
from pathlib import Path

from benchd.daemon.checked import check
from benchd.daemon.job_control import Job
from benchd.daemon.queue import Disk
from benchd.errors import InputError
from benchd.plan.offset_readings import BACK, SENTENCES
from benchd.plan.step import CAPPED, SCREEN_OFF
from benchd.run.job import BenchJob

CENTRE = "centre"
"""The place where a meter stands that was never moved, as the steps of a plan name it."""

_CAP, _OFF = "the cap is on the meter", "the display was switched off"
_STANDS = {CAPPED: _CAP, SCREEN_OFF: _OFF, BACK[CAPPED]: _CAP, BACK[SCREEN_OFF]: _OFF}

logger = logging.getLogger("benchd.service")


class PositionRecord:
    """The place of the last manual move, of this service or of the one before it, in ``folder``."""

    def __init__(self, folder: Path, bench: BenchJob, disk: Disk | None = None) -> None:
        self.manual_moves = bench.bench.manual_moves
        self.place = CENTRE
        self._path, self._bench, self._disk = folder / "meter-place", bench, disk or Disk()
        self._roaming: dict[str, bool] = {}
        with suppress(OSError, UnicodeDecodeError):
            self.place = self._path.read_text("utf-8").strip() or CENTRE

    def asked(self, place: str) -> None:
        """The operator was requested to move the meter: from now on it may be anywhere."""
        self._keep(place if place != CENTRE else f"on its way to the {CENTRE}")

    def confirmed(self, place: str) -> None:
        """The meter stands at ``place``; without its cap again, or before a display that is on again, at the centre."""
        self._keep(CENTRE if place in BACK.values() else place)

    @property
    def stands(self) -> str:
        """Where it was left, as the begin of a sentence."""
        return _STANDS.get(self.place) or f"the meter was moved to {self.place}"

    @property
    def back(self) -> str:
        """What the operator is requested to do before the next job, as a sentence without its full stop."""
        return SENTENCES.get(BACK.get(self.place, self.place), "Move the meter to the centre of the screen")

    def must_go_to_centre(self, job: Job) -> bool:
        """True when ``job`` would begin where the meter does not stand.

        A run that goes on away from the centre requests its place by itself, and a resume of one that waits
        for a move confirms that the meter is there.
        """
        if not self.manual_moves or self.place == CENTRE or job.move_to:
            return False
        return not job.log or not self._roams(job)

    def _roams(self, job: Job) -> bool:
        if job.id not in self._roaming:
            try:
                self._roaming[job.id] = check(job.submission, self._bench).roams
            except InputError:
                return True  # it can't run at all, and will report why
        return self._roaming[job.id]

    def _keep(self, place: str) -> None:
        if place == self.place:
            return
        self.place = place
        fresh = self._path.with_name(".meter-place.new")
        try:
            self._disk.write(fresh, f"{place}\n".encode())
            self._disk.rename(fresh, self._path)
            self._disk.sync_folder(self._path.parent)
        except OSError as error:
            logger.error("place of the meter not kept", extra={"facts": {"place": place, "why": str(error)}})
