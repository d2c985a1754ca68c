"""A motion stage that exists only as numbers: serves the mover protocol, moves the simulated meter.

    python -m sim.mover --socket PATH

A move takes two seconds of scene time.
"""

from __future__ import annotations

import json
import sys
from typing import Any

from sim.relay import BenchGone, Relay, say, socket_argument


def answer(relay: Relay, asked: dict[str, Any]) -> dict[str, Any]:
    """The answer to one message, without its ``seq``."""
    if asked.get("op") != "move":
        return {"ok": False, "text": "this mover has the operation move"}
    try:
        answer = relay.ask({key: asked.get(key) for key in ("op", "x", "y", "place")})
    except BenchGone as gone:
        return {"ok": False, "text": str(gone)}
    return {"ok": False, "text": answer["error"]} if "error" in answer else {"ok": True}


def main() -> int:
    """Answer until standard input closes."""
    path, _ = socket_argument("python -m sim.mover --socket PATH")
    try:
        relay = Relay(path)
    except BenchGone as gone:
        sys.stderr.write(f"{gone}\n")
        return 1
    for line in sys.stdin:
        asked = json.loads(line)
        say({"seq": asked.get("seq"), **answer(relay, asked)})
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
