"""One model and an indexed list of a hundred flights, from the service and from datasette (a general-purpose JSON API
over SQLite) on the very same file, by turns in one run. Prints rows of the table of marks.

usage: lists.py PREEN_BENCH [SECONDS [TURNS]]
"""

import json
import socket
import statistics
import subprocess
import sys
import time
import urllib.request

bench = sys.argv[1]
seconds = sys.argv[2] if len(sys.argv) > 2 else "3"
turns = int(sys.argv[3]) if len(sys.argv) > 3 else 5


def free_port():
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return one.getsockname()[1]


def rate(url, token=""):
    told = subprocess.run(
        [bench, "load", url, "32", seconds] + ([token] if token else []),
        check=True,
        capture_output=True,
        text=True,
    )
    answer = json.loads(told.stdout)
    assert answer["others_than_200"] == 0, f"{url}: {answer}"
    return answer["rate"]


def read(url, token=""):
    request = urllib.request.Request(url, headers={"Authorization": f"Bearer {token}"} if token else {})
    return json.load(urllib.request.urlopen(request))


def main():
    held = subprocess.Popen([bench, "hold"], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    said = json.loads(held.stdout.readline())
    port = free_port()
    other = subprocess.Popen(
        [sys.executable, "-m", "datasette", "serve", said["file"], "--host", "127.0.0.1", "--port", str(port),
         "--setting", "default_cache_ttl", "0"],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        base = f"http://127.0.0.1:{port}/preen"
        for _ in range(200):
            try:
                read(f"http://127.0.0.1:{port}/-/versions.json")
                break
            except OSError:
                time.sleep(0.1)
        ours = f"{said['url']}/api/v1"
        model = read(f"{ours}/models/L-3", said["token"])
        pairs = [
            ("one model", f"{ours}/models/L-3", f"{base}/models/bench,{model['id']},{model['revision']}.json?_shape=objects"),
            ("list of 100 flights by index", f"{ours}/flights?model=L-3&limit=100",
             f"{base}/flights.json?club_id=bench&model={model['id']}&_size=100&_shape=objects&_nofacet=1&_nocount=1"),
        ]
        for what, mine, theirs in pairs:
            rows = [len(read(mine, said["token"]).get("items", [1])), len(read(theirs)["rows"])]
            assert rows[0] == rows[1], f"{what}: {rows}"
            mine_rates, their_rates = [], []
            for _ in range(turns):
                mine_rates.append(rate(mine, said["token"]))
                their_rates.append(rate(theirs))
            a, b = statistics.median(mine_rates), statistics.median(their_rates)
            reached = "yes" if a / b >= 10 else "**no**"
            print(f"| 10 | {what}, beside datasette on the same file | {a / b:.1f} × | ≥ 10 × | {reached} | "
                  f"{a:.0f} /s and {b:.0f} /s over 32 connections |", flush=True)
    finally:
        other.terminate()
        other.wait()
        held.stdin.close()
        held.wait()


main()
