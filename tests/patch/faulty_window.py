"""A child that speaks the window protocol without a window, and does one thing wrong: argv[1] says which."""

from __future__ import annotations

import json
import os
import sys
import time
from typing import Any

IDENTITY = {"name": "A-1", "width": 64, "height": 48, "x": 0, "y": 0, "bits": 8, "readback": "screen",
            "renderer": "none", "awake": "no", "simulated": True}  # fmt: skip


def send(message: dict[str, Any]) -> None:
    os.write(1, json.dumps(message).encode() + b"\n")


def colour(question: dict[str, Any], x: int, y: int) -> list[int]:
    inside = [r for r in question["rects"] if r[0] <= x < r[0] + r[2] and r[1] <= y < r[1] + r[3]]
    return list(inside[-1][4:])


def answer(question: dict[str, Any]) -> dict[str, Any]:
    pixels = [colour(question, x, y) for x, y in question["probe"]]
    return {"seq": question["seq"], "ok": True, "width": 64, "height": 48, "screen": "A-1", "bits": 8,
            "readback": "screen", "pixels": pixels}  # fmt: skip


def faulty(fault: str, question: dict[str, Any]) -> None:
    good = answer(question)
    line = json.dumps(good).encode() + b"\n"
    match fault:
        case "none":
            send(good)
        case "earlier-answer-first":
            send({**good, "seq": question["seq"] - 1, "pixels": []})
            send(good)
        case "trickle":
            for i in range(0, len(line), 40):
                os.write(1, line[i : i + 40])
                time.sleep(0.002)
        case "silent":
            time.sleep(60)
        case "half":
            os.write(1, line[:30])
            time.sleep(60)
        case "endless":
            while True:
                os.write(1, b"x" * 65536)
        case "drip":
            while True:
                os.write(1, b"x")
                time.sleep(0.02)
        case "garbage":
            os.write(1, b"?\xff?\n")
        case "few-pixels":
            send({**good, "pixels": good["pixels"][1:]})
        case "wrong-pixel":
            send({**good, "pixels": [[1, 2, 3], *good["pixels"][1:]]})
        case "other-screen":
            send({**good, "screen": "B-2"})
        case "disturbed" | "wrong_screen" | "refused" | "lost" | "strange":
            send({"seq": question["seq"], "ok": False, "error": fault, "text": f"it was {fault}"})
        case "exit":
            sys.stderr.write("first line\nsomething broke here\n")
            sys.stderr.flush()
            os._exit(3)
        case "event-exit":
            send({"event": "display_lost", "text": "the display server :7 went away"})
            os._exit(70)
        case "closes-output":
            os.close(1)
            time.sleep(60)
        case _:
            raise SystemExit(f"unknown fault {fault}")


def main() -> None:
    for line in sys.stdin.buffer:
        question = json.loads(line)
        if question["op"] == "hello":
            send({"seq": question["seq"], "ok": True, "identity": IDENTITY})
        else:
            faulty(sys.argv[1], question)
    if len(sys.argv) > 2:
        with open(sys.argv[2], "w") as note:
            note.write("saw the end")


main()
