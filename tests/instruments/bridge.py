"""A meter's bridge for tests: misbehaves as its arguments say, one act a reading, the last one for ever.

Run as ``python bridge.py MODEL SERIAL ACTS``, where ACTS is a JSON list of answers (objects) or of troubles.
What is begun of a half answer comes together with the answer before it, so that nobody has to wait for it.
"""

import json
import sys
import time


def main(model: str, serial: str, acts: list[object]) -> None:
    held: list[str] = []
    for line in sys.stdin:
        question = json.loads(line)
        number = question["id"]
        if question["op"] == "identify":
            identity = {"model": model, "serial_number": serial, "firmware": "1", "simulated": True}
            print(json.dumps({"id": number, **identity}), flush=True)
            continue
        act = acts.pop(0) if len(acts) > 1 else acts[0]
        if isinstance(act, dict):
            answer = {"id": number, "integration_s": question["integration_s"], **act}
            begun = '{"id":' if acts[0] == "half" else ""
            print("\n".join([*held, json.dumps(answer), begun]), end="", flush=True)
            held.clear()
        elif act == "garbage":
            print("%&/!?", flush=True)
        elif act == "nan":
            print(f'{{"id":{number},"X":1,"Y":NaN,"Z":1}}', flush=True)
        elif act == "late":
            held.append(json.dumps({"id": number, "X": 1.0, "Y": 1.0, "Z": 1.0, "status": "ok"}))
        elif act == "other id":
            print(json.dumps({"id": number + 7, "X": 1.0, "Y": 1.0, "Z": 1.0}), flush=True)
        elif act == "gone":
            print("the kit lost the meter", file=sys.stderr, flush=True)
            sys.exit(3)
        elif act == "talks":
            print("x" * 200_000, file=sys.stderr, flush=True)
            print(json.dumps({"id": number, "X": 1.0, "Y": 1.0, "Z": 1.0}), flush=True)
        elif act == "long":
            print("x" * 1_200_000, flush=True)
        elif act == "half":
            continue
        elif act == "stays":
            time.sleep(60)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], json.loads(sys.argv[3]))
