"""What the tester cannot know of a club: which items there are. Without it nearly every request would stop at a
reference to nothing. Only texts that read as an id are exchanged, so that what is wrong on purpose stays wrong."""

import json
import os
import random
import re
import urllib.request
import zlib

import schemathesis

URL = os.environ["PREEN_URL"]
TOKEN = os.environ["PREEN_TOKEN"]
# Left alone, so that the tester does not take its own access away.
OWN = {os.environ["PREEN_TOKEN_ID"]}

ID = re.compile(r"[0-9a-fA-F]{8}(-[0-9a-fA-F]{4}){3}-[0-9a-fA-F]{12}")
# What the description says of a tag.
TAG = re.compile(r"[^\x00-/:-@\[-`{-\x7f][^\x00-,/:-@\[-^`{-\x7f]{0,39}")
MOMENT = re.compile(r"\d{4}-\d\d-\d\d[Tt ]\d\d:\d\d:\d\d(\.\d+)?([Zz]|[+-]\d\d:\d\d)")

# The noun that a field points at, where its name is not the noun's own.
NOUNS = {
    "owner": "members", "pilot": "members", "lent_to": "members", "member": "members", "second_person": "members",
    "for_model": "models", "on": "components", "mates": "components",
}


def ask(path):
    request = urllib.request.Request(f"{URL}/api/v1/{path}", headers={"Authorization": f"Bearer {TOKEN}"})
    with urllib.request.urlopen(request) as reply:
        return json.load(reply)


OWN.add(ask("session")["member"])
POOLS = {}


def known(noun):
    """Ids of what there was of a noun when it was first asked for."""
    if noun not in POOLS:
        limit = "" if noun == "tokens" else "?limit=500"
        try:
            items = ask(f"{noun}{limit}")["items"]
        except urllib.error.HTTPError:
            items = []
        POOLS[noun] = [item["id"] for item in items if item["id"] not in OWN]
    return POOLS[noun]


def noun_of(field):
    if field in NOUNS:
        return NOUNS[field]
    if field.endswith("_by"):
        return "members"
    noun = field if field.endswith("s") else f"{field}s"
    return noun if noun in ROUTES else None


ROUTES = {
    path.split("/")[3]
    for path in json.load(urllib.request.urlopen(f"{URL}/api/v1/openapi.json"))["paths"]
    if path.startswith("/api/v1/") and path.endswith("/{id}")
}


def fill(value, field, chance):
    """Points references at things there are, and puts moments into the last weeks."""
    if isinstance(value, dict):
        return {key: fill(inner, key, chance) for key, inner in value.items()}
    if isinstance(value, list):
        return [fill(inner, field, chance) for inner in value]
    if field == "tag" and isinstance(value, str) and TAG.fullmatch(value) and chance.random() < 0.8:
        return f"T{chance.randint(0, 10 ** 9)}"
    if not isinstance(value, str) or chance.random() < 0.1:
        return value
    if ID.fullmatch(value):
        if field in ("id", "removal", "installation"):
            return fresh(chance)
        noun = noun_of(field)
        return chance.choice(known(noun)) if noun and known(noun) else value
    if field.endswith("_at") and field != "expires_at" and MOMENT.fullmatch(value):
        return f"2026-05-{chance.randint(1, 20):02}T{chance.randint(6, 19):02}:{chance.randint(0, 59):02}:00Z"
    return value


def fresh(chance):
    """An id as a client makes one (UUIDv7)."""
    text = f"{chance.getrandbits(128):032x}"
    return f"019{text[3:8]}-{text[8:12]}-7{text[13:16]}-8{text[17:20]}-{text[20:]}"


def repeat(body, name, method, path):
    """Has a body say the id that the path says, where it says one."""
    places = [(body, "id")] if method == "PUT" else []
    if path.endswith("/correction") and isinstance(body, dict):
        places = [(body, "original"), (body.get("fact"), "id")]
    for place, field in places:
        if isinstance(place, dict) and isinstance(place.get(field), str) and ID.fullmatch(place[field]):
            place[field] = name


@schemathesis.hook
def before_call(context, case, kwargs):
    phase = case.meta.phase.name.value if case.meta else ""
    path, method = case.operation.path, case.method
    chance = random.Random(zlib.crc32(repr((path, method, case.path_parameters, case.body)).encode()))
    noun = path.split("/")[3] if path.startswith("/api/v1/") else ""
    # Where steps follow each other the tester knows which item it made.
    if phase != "stateful" and "id" in (case.path_parameters or {}) and known(noun) and chance.random() < 0.7:
        case.path_parameters["id"] = chance.choice(known(noun))
    if isinstance(case.body, (dict, list)):
        case.body = fill(case.body, "", chance)
        name = (case.path_parameters or {}).get("id")
        if name is not None:
            repeat(case.body, name, method, path)


# What a text must hold beyond what a description can say of it.
BEYOND = re.compile(
    r"is outside the years 1950 to 2199"  # A moment has a format, and formats have no bounds.
    r"|a tag (begins with|has)|look like a UUID"  # Portable patterns know no letters but a to z.
)


@schemathesis.check
def described_is_read(context, response, case):
    """What the description allows must be readable and in range: it may be refused for what it says of the club,
    not for its shape."""
    if case.meta is None or not case.meta.generation.mode.is_positive or response.status_code not in (400, 422):
        return
    # Steps that follow each other hang on what the service answered, so they differ from run to run: the quick run
    # holds them to the tester's own checks, the long run to this one, too.
    if case.meta.phase.name.value == "stateful" and os.environ.get("PREEN_ASKED") != "long":
        return
    problem = response.json()
    errors = problem.get("errors") or [{"code": problem["code"], "text": problem["detail"]}]
    for error in errors:
        is_read = error["code"] not in ("malformed_json", "unreadable", "out_of_range")
        assert is_read or BEYOND.search(error["text"]), problem["detail"]
