"""A bridge to a meter that speaks no lines of ASCII: replace the three INVENTED answers by calls of its kit."""

import json
import sys

for line in sys.stdin:
    question = json.loads(line)
    answer: dict[str, object] = {"id": question["id"]}
    if question["op"] == "identify":
        answer |= {"model": "INVENTED-BRIDGE", "serial_number": "B-1", "firmware": "1", "simulated": True}
    elif question["op"] == "read":  # X, Y, Z in cd/m2; integration_s null: the meter chooses
        answer |= {"X": 95.047, "Y": 100.0, "Z": 108.883, "status": "ok", "integration_s": question["integration_s"]}
    else:
        answer |= {"error": "this bridge knows identify and read only"}
    sys.stdout.write(json.dumps(answer) + "\n")
    sys.stdout.flush()
