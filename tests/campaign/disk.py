"""The file system that a log of the campaign lies on: a small real one where that may be mounted.

``plain``   the folder as it is
``small``   a tmpfs of 512 KiB, to be filled up (root only; else the file may not grow beyond a limit, RLIMIT_FSIZE)
``failing`` an ext4 image on a loop device that turns read-only on an error, as a dying disk does (root only)
"""

from __future__ import annotations

import os
import resource
import shutil
import subprocess
from pathlib import Path

SMALL_BYTES = 512 * 1024
IMAGE_BYTES = 8 * 1024 * 1024


def may_mount() -> bool:
    """True where this process may mount."""
    return os.geteuid() == 0 and shutil.which("mount") is not None


def may_fail() -> bool:
    """True where an ext4 image can be mounted and made to fail."""
    return may_mount() and shutil.which("mkfs.ext4") is not None and Path("/dev/loop-control").exists()


class Disk:
    """A context manager; ``root`` is a folder of the test's own."""

    def __init__(self, root: Path, kind: str) -> None:
        self.root = root
        self.kind = kind if may_mount() else "plain"
        self._image = root.with_suffix(".img")
        self._filler = root / "filler"

    def __enter__(self) -> Disk:
        self.root.mkdir()
        if self.kind == "small":
            _call("mount", "-t", "tmpfs", "-o", f"size={SMALL_BYTES}", "tmpfs", str(self.root))
        elif self.kind == "failing":
            self._image.write_bytes(b"")
            os.truncate(self._image, IMAGE_BYTES)
            _call("mkfs.ext4", "-q", "-F", str(self._image))
            self._mount_image()
        (self.root / "logs").mkdir()
        return self

    def __exit__(self, *exc_info: object) -> None:
        if self.kind != "plain":
            subprocess.run(["umount", "-l", str(self.root)], check=False, capture_output=True)

    def fill(self, process: int, log: Path) -> None:
        """No byte more."""
        if self.kind != "small":
            size = log.stat().st_size
            resource.prlimit(process, resource.RLIMIT_FSIZE, (size, resource.RLIM_INFINITY))
            return
        with self._filler.open("wb", buffering=0) as stream:
            for block in (4096, 1):
                try:
                    while stream.write(b"x" * block) == block:
                        pass
                except OSError:
                    continue

    def make_room(self) -> None:
        """As it was. (A limit of a process ends with it.)"""
        self._filler.unlink(missing_ok=True)

    def fail(self) -> None:
        """The file system finds an error and turns itself read-only under the open file."""
        device = Path(_call("findmnt", "-n", "-o", "SOURCE", str(self.root)).strip()).name
        Path(f"/sys/fs/ext4/{device}/trigger_fs_error").write_text("campaign")

    def repair(self) -> None:
        """Unmounted, checked, mounted again."""
        _call("umount", str(self.root))
        subprocess.run(["fsck.ext4", "-p", "-f", str(self._image)], check=False, capture_output=True)
        self._mount_image()

    def _mount_image(self) -> None:
        _call("mount", "-o", "loop,errors=remount-ro", str(self._image), str(self.root))


def _call(*command: str) -> str:
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, f"{command}: {done.stderr}"
    return done.stdout
