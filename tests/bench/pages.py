"""Time to the first byte of the fleet board's page beside that of the same answer as JSON, for a club of 300 models.

Copies the demo club's tables so many times into a folder of its own (models, parts and what happened to them, each copy
with tags of its own; members, designs and part types stay single), serves it by `preen-server demo --from`, signs in, and
asks both in turn. Prints medians and their ratio, and how many bytes each page of the demo club transfers. Arguments:
program, copies (25 make 300 models), turns.
"""

import csv
import gzip
import http.client
import os
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.parse

PROGRAM, COPIES, TURNS = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
TABLES = os.path.join(os.path.dirname(__file__), "../../api/src/demo/tables")
COPIED = ["models", "components", "conditions", "installations", "removals", "matched_sets", "pairings", "flights",
          "riggings", "inspections", "measurements", "weighings", "defects", "repairs", "releases"]
KEPT = ["club", "members", "designs", "positions", "joints", "stations", "ballast_cells", "parts"]
PORT = 18026


def copy_club(folder):
    for name in KEPT:
        shutil.copy(f"{TABLES}/{name}.csv", folder)
    rows = {name: list(csv.reader(open(f"{TABLES}/{name}.csv", newline=""))) for name in COPIED}
    own = {row[0] for name in COPIED if rows[name][0][0] == "tag" for row in rows[name][1:] if row[0]}
    for name in COPIED:
        head, *body = rows[name]
        with open(f"{folder}/{name}.csv", "w", newline="") as out:
            write = csv.writer(out, lineterminator="\n")
            write.writerow(head)
            for copy in range(COPIES):
                for row in body:
                    write.writerow([";".join(f"{one}-{copy}" if one in own else one for one in cell.split(";"))
                                    if head[at] not in ("note", "text") else cell for at, cell in enumerate(row)])


def ask(path, headers):
    link = http.client.HTTPConnection("127.0.0.1", PORT)
    link.connect()
    begun = time.perf_counter()
    link.request("GET", path, headers=headers)
    answer = link.getresponse()
    first = answer.read(1)
    took = time.perf_counter() - begun
    body = first + answer.read()
    assert answer.status == 200, (path, answer.status, body[:200])
    link.close()
    return took, body


def sign_in(env):
    link = http.client.HTTPConnection("127.0.0.1", PORT)
    body = urllib.parse.urlencode({"club": "quillmarsh", "member": "FS", "password": env["PREEN_PASSWORD"]})
    link.request("POST", "/sign-in", body, {"Content-Type": "application/x-www-form-urlencoded",
                                            "Origin": f"http://127.0.0.1:{PORT}"})
    answer = link.getresponse()
    assert answer.status == 303, answer.status
    return answer.getheader("Set-Cookie").split(";")[0]


with tempfile.TemporaryDirectory() as work:
    tables, data = f"{work}/tables", f"{work}/data"
    os.mkdir(tables)
    copy_club(tables)
    served = subprocess.Popen([PROGRAM, "demo", "--from", tables, "--data", data, "--listen", f"127.0.0.1:{PORT}"],
                              stdout=subprocess.PIPE, text=True)
    try:
        for line in served.stdout:
            if " serves " in line:
                break
        env = dict(re.findall(r"export (\w+)=(\S+)", open(f"{data}/demo.env").read()))
        cookie = {"Cookie": sign_in(env), "Accept-Encoding": "gzip"}
        token = {"Authorization": f"Bearer {env['PREEN_TOKEN']}", "Accept-Encoding": "gzip"}
        page, json = [], []
        for _ in range(TURNS):
            json.append(ask("/api/v1/may-fly", token)[0])
            page.append(ask("/", cookie)[0])
        one, other = statistics.median(page), statistics.median(json)
        body = ask("/", cookie)[1]
        print(f"board of {12 * COPIES} models: page {one * 1e3:.1f} ms, JSON {other * 1e3:.1f} ms to the first byte, "
              f"ratio {one / other:.2f} (mark 3); page {len(body) / 1000:.0f} kB sent, "
              f"{len(gzip.decompress(body)) / 1000:.0f} kB of text")
    finally:
        served.terminate()
        served.wait()
