"""What hangs on this project and is not its own: where it comes from, whether it is what was agreed, and whether it was
taken back. Licences are held by `tests/house/licences.rs`.

  sources      every crate from the one registry of .deny.toml, with its checksum; none from elsewhere
  taken back   no crate of Cargo.lock is yanked, as the registry's index says that cargo has fetched
  versions     a crate in several major versions stands in tests/audit/versions.txt, with its reason
  builders     crates that run while others are built (build scripts, macros) stand in tests/audit/builders.txt
  unsafe       every crate of the workspace forbids it
  python       every file of the test tools is pinned by its hash

Advisory data bases lie where CI does not reach. Whoever has one on the machine names its folder in PREEN_ADVISORIES, and
has `cargo audit` or `cargo deny`: then it is asked, too.
`.ci/audit agree` writes the two lists anew, to be read like any change."""

import json
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tomllib

TOP = pathlib.Path(__file__).resolve().parent.parent.parent
AGREED = TOP / "tests/audit"
faults = []


def fault(text):
    faults.append(text)


def read_list(name):
    """Lines `CRATE  REASON` of an agreed list."""
    lines = (AGREED / f"{name}.txt").read_text().splitlines() if (AGREED / f"{name}.txt").exists() else []
    return dict((line.split(None, 1) + [""])[:2] for line in lines if line.strip() and not line.startswith("#"))


def write_list(name, head, rows):
    body = "".join(f"{crate:<28} {reason}".rstrip() + "\n" for crate, reason in sorted(rows.items()))
    (AGREED / f"{name}.txt").write_text(f"# {head}\n{body}")


def sources(packages):
    allowed = re.search(r'allow-registry = \["([^"]+)"\]', (TOP / ".deny.toml").read_text())[1]
    for package in packages:
        name = f"{package['name']} {package['version']}"
        source = package.get("source")
        if source is None:
            continue
        if source != f"registry+{allowed}":
            fault(f"{name} comes from {source}")
        if not re.fullmatch(r"[0-9a-f]{64}", package.get("checksum", "")):
            fault(f"{name} has no checksum")


def index_file(name):
    small = name.lower()
    place = {1: "1", 2: "2", 3: f"3/{small[0]}"}.get(len(small), f"{small[:2]}/{small[2:4]}")
    home = pathlib.Path(os.environ.get("CARGO_HOME", pathlib.Path.home() / ".cargo"))
    return next(iter(sorted((home / "registry/index").glob(f"*/.cache/{place}/{small}"))), None)


def taken_back(packages):
    unknown = 0
    for package in packages:
        if "source" not in package:
            continue
        file = index_file(package["name"])
        entry = None
        for part in file.read_bytes().split(b"\0") if file else []:
            if part.startswith(b"{"):
                line = json.loads(part)
                if line["vers"].split("+")[0] == package["version"].split("+")[0]:
                    entry = line
        if entry is None:
            unknown += 1
        elif entry.get("yanked"):
            fault(f"{package['name']} {package['version']} was taken back by those who made it")
        elif entry["cksum"] != package["checksum"]:
            fault(f"{package['name']} {package['version']}: the index knows another checksum")
    return unknown


def major(version):
    parts = version.split("+")[0].split(".")
    return parts[0] if parts[0] != "0" else ".".join(parts[:2])


def versions(told, agree):
    packages = {package["id"]: package for package in told["packages"]}
    held, by = {}, {}
    for node in told["resolve"]["nodes"]:
        package = packages[node["id"]]
        held.setdefault(package["name"], set()).add(major(package["version"]))
        for needed in node["dependencies"]:
            one = packages[needed]
            by.setdefault((one["name"], major(one["version"])), set()).add(package["name"])
    several = {name: sorted(majors, key=lambda text: [int(part) for part in text.split(".")])
               for name, majors in held.items() if len(majors) > 1}
    agreed = read_list("versions")
    if agree:
        reason = lambda name, major: f"{major} for {', '.join(sorted(by.get((name, major), [])))}"
        write_list("versions", "Crates in several major versions, and who asks for the older ones.",
                   {name: f"{' '.join(majors)} ({'; '.join(reason(name, major) for major in majors[:-1])})"
                    for name, majors in several.items()})
        return
    for name, majors in several.items():
        if not agreed.get(name, "").startswith(f"{' '.join(majors)} ("):
            fault(f"{name} in versions {' '.join(majors)}: agreed is `{agreed.get(name, 'nothing')}`")
    for name in agreed.keys() - several.keys():
        fault(f"{name} is in tests/audit/versions.txt and no longer in several versions")


def metadata():
    host = next(line.split()[1] for line in subprocess.check_output(["rustc", "-vV"], text=True).splitlines()
                if line.startswith("host:"))
    told = subprocess.check_output(
        ["cargo", "metadata", "--format-version", "1", "--locked", "--offline", "--filter-platform", host], cwd=TOP)
    return json.loads(told)


def builders(packages, agree):
    found = {}
    for package in packages:
        if package["source"] is None:
            continue
        kinds = {kind for target in package["targets"] for kind in target["kind"]}
        does = [word for kind, word in (("custom-build", "script"), ("proc-macro", "macro")) if kind in kinds]
        if does:
            found.setdefault(package["name"], set()).update(does)
    found = {name: " ".join(sorted(does)) for name, does in found.items()}
    if agree:
        write_list("builders", "Crates that run on the machine that builds: scripts before, macros while.", found)
        return
    agreed = read_list("builders")
    for name, does in found.items():
        if agreed.get(name) != does:
            fault(f"{name} runs at build time ({does}), which was not agreed: read it, then `.ci/audit agree`")
    for name in agreed.keys() - found.keys():
        fault(f"{name} is in tests/audit/builders.txt and runs no longer")


def no_unsafe(told):
    for package in told["packages"]:
        if package["source"] is not None:
            continue
        manifest = tomllib.loads(pathlib.Path(package["manifest_path"]).read_text())
        lints = manifest.get("lints", {})
        if lints.get("workspace"):
            lints = tomllib.loads((TOP / "Cargo.toml").read_text())["workspace"]["lints"]
        if lints.get("rust", {}).get("unsafe_code") != "forbid":
            fault(f"{package['name']} does not forbid unsafe code")


def python_tools():
    files = sorted(file for pattern in ("requirements.txt", "validator.txt") for file in (TOP / "tests").rglob(pattern))
    for file in files:
        text = file.read_text().replace("\\\n", " ")
        for line in text.splitlines():
            if not line.strip() or line.startswith(("#", "--")):
                continue
            if "==" not in line.split()[0] or "--hash=sha256:" not in line:
                fault(f"{file.relative_to(TOP)}: `{line.split()[0]}` is not pinned by version and hash")
    for script in sorted([*(TOP / ".ci").glob("*"), *(TOP / "tests").rglob("run")]):
        for line in script.read_text().splitlines() if script.is_file() else []:
            if "pip" in line and " install" in line and "--require-hashes" not in line:
                fault(f"{script.relative_to(TOP)}: installs without hashes: {line.strip()}")
    return len(files)


def advisories():
    folder = os.environ.get("PREEN_ADVISORIES")
    if not folder:
        return "no advisories on this machine: not asked"
    if shutil.which("cargo-audit"):
        asked = subprocess.run(["cargo", "audit", "--db", folder, "--no-fetch", "--deny", "warnings"], cwd=TOP)
    elif shutil.which("cargo-deny"):
        asked = subprocess.run(["cargo", "deny", "--offline", "--config", ".deny.toml", "check", "advisories"], cwd=TOP)
    else:
        fault("PREEN_ADVISORIES is set, and neither cargo-audit nor cargo-deny is there")
        return "no program to ask them"
    if asked.returncode != 0:
        fault("advisories stand against something that is used")
    return "advisories asked"


def main():
    agree = sys.argv[1:] == ["agree"]
    packages = tomllib.loads((TOP / "Cargo.lock").read_text())["package"]
    told = metadata()
    sources(packages)
    unknown = taken_back([package for package in packages if package["name"] in {one["name"] for one in told["packages"]}])
    if unknown > len(packages) // 20:
        fault(f"of {unknown} crates the index that cargo has fetched says nothing: run `cargo fetch --locked` first")
    versions(told, agree)
    builders(told["packages"], agree)
    no_unsafe(told)
    pinned = python_tools()
    asked = advisories()
    for text in faults:
        print(text, file=sys.stderr)
    print(f"{len(packages)} crates, {len(told['packages'])} built here, {unknown} unknown to the index; "
          f"{pinned} lists of Python tools; {asked}")
    sys.exit(1 if faults else 0)


main()
