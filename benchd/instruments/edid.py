"""Which display is behind which I2C bus, from the EDID that the kernel shows. Linux only; read, never written.

Layout after the VESA E-EDID standard, release A (from memory): 128 bytes that add up to a multiple of 256, four
descriptors of 18 bytes from byte 54; one that begins with 00 00 00 FC 00 holds the product name, ended by a line feed.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import NamedTuple

BLOCK = 128
_HEADER = bytes.fromhex("00ffffffffffff00")
_NAME = bytes.fromhex("000000fc00")
_BUS = re.compile(r"i2c-\d+\Z")


class DisplayOnBus(NamedTuple):
    """A display that is connected. ``name`` is empty where its EDID has none or can't be read."""

    name: str
    bus: str  # "/dev/i2c-4"
    connector: str  # "card0-HDMI-A-1"


def product_name(edid: bytes) -> str:
    """The product name; empty where there is none or the block is damaged."""
    block = edid[:BLOCK]
    if len(block) < BLOCK or not block.startswith(_HEADER) or sum(block) % 256:
        return ""
    for start in (54, 72, 90, 108):
        descriptor = block[start : start + 18]
        if descriptor.startswith(_NAME):
            return descriptor[5:].partition(b"\n")[0].decode("ascii", errors="replace").strip()
    return ""


def displays_on_buses(folder: str = "/sys/class/drm") -> tuple[DisplayOnBus, ...]:
    """Every connected display whose I2C bus the kernel lists, in the order of the connectors."""
    found = []
    for connector in sorted(Path(folder).glob("card*-*")):
        try:
            edid = (connector / "edid").read_bytes()
        except OSError:
            continue
        bus = _bus_of(connector)
        if edid and bus:
            found.append(DisplayOnBus(product_name(edid), f"/dev/{bus}", connector.name))
    return tuple(found)


def _bus_of(connector: Path) -> str:
    """A connector has its own bus below it (DisplayPort), or a link ``ddc`` to one."""
    own = sorted(path.name for path in connector.glob("i2c-*") if _BUS.match(path.name))
    if own:
        return own[0]
    link = connector / "ddc"
    name = link.resolve().name if link.exists() else ""
    return name if _BUS.match(name) else ""
