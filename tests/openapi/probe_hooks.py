"""What the prober can not draw by chance: ids of things that are there, and days on which something was there.

An id that fits the document and is nobody's goes by one of the workshop's own, and most days by one of the workshop's
years, so that whatever else was drawn reaches the rules. What was drawn wrong on purpose is neither and stays as it is;
so does what came along a link.
"""

import functools
import os
import re
import zlib

import requests
import schemathesis

NOBODYS = "019af000-0000-7000-8000-000000000001"
OWN = os.environ["LEDGERBOARD_OWN_TOKEN"]
URL = os.environ["LEDGERBOARD_URL"]
HEADERS = {"Authorization": f"Bearer {os.environ['LEDGERBOARD_TOKEN']}"}

# Lists where ids of a shape are found.
LISTS = {
    "DealId": "/v1/deals",
    "DocumentId": "/v1/documents",
    "EpisodeId": "/v1/episodes",
    "LotId": "/v1/materials",
    "MoneyAccountId": "/v1/accounts",
    "PartyId": "/v1/parties",
    "PieceId": "/v1/furniture",
    "ProjectId": "/v1/projects",
    "RecordId": "/v1/purchases",
    "SourceId": "/v1/sources",
    "ToolId": "/v1/tools",
}

# These would close or take back what every other operation needs, so they only show what they would do.
FOR_SHOW = {"/v1/books/closing", "/v1/entries/{number}/reversal", "/v1/records/{id}/reversal"}

ID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")
DAY = re.compile(r"[0-9]{4}(-[0-9]{2}-[0-9]{2})")


@functools.cache
def listed(path, field="id"):
    answer = requests.get(URL + path, headers=HEADERS, params={"limit": 200} if path != "/v1/sources" else {}, timeout=30)
    found = answer.json() if answer.ok else {}
    items = found.get("items") or [{"id": one["source"]} for one in found.get("sources", [])]
    return [item[field] for item in items if item.get(field, OWN) != OWN]


def chance(drawn):
    """The same for the same that was drawn, so that a case can be run again."""
    return zlib.crc32(str(drawn).encode())


def one_of(known, drawn):
    return known[chance(drawn) % len(known)] if known else drawn


def most_days_of_the_workshop(drawn):
    if chance(drawn) % 5 == 0:
        return drawn
    year = ("2024", "2025", "2026")[chance(drawn) % 3]
    return (year + DAY.fullmatch(drawn)[1]).replace("02-29", "02-28")


@functools.cache
def shapes():
    """Names of fields, and of the shapes of id that they hold."""
    document = requests.get(URL + "/openapi.json", timeout=30).json()
    found = {}
    for shape in document["components"]["schemas"].values():
        for name, field in shape.get("properties", {}).items():
            for one in (field, field.get("items", {}), *field.get("oneOf", [])):
                pointed = one.get("$ref", "").rsplit("/", 1)[-1]
                if pointed in LISTS:
                    found.setdefault(name, pointed)
    return found


def of_the_workshop(value, name=None):
    if isinstance(value, dict):
        return {key: of_the_workshop(one, key) for key, one in value.items()}
    if isinstance(value, list):
        return [of_the_workshop(one, name) for one in value]
    if isinstance(value, str) and name in shapes() and ID.fullmatch(value):
        return one_of(listed(LISTS[shapes()[name]]), value)
    if isinstance(value, str) and DAY.fullmatch(value):
        return most_days_of_the_workshop(value)
    return value


def place_of_the_workshop(path, name, drawn):
    """A path's own part: an id, the number of an entry, a year."""
    collection = path.split("/{", 1)[0]
    if name in ("id", "lot") and ID.fullmatch(str(drawn)):
        return one_of(listed("/v1/purchases" if collection == "/v1/records" else collection), drawn)
    if name == "number" and str(drawn).isdigit():
        return one_of(listed("/v1/entries", "number"), drawn)
    if name == "year" and str(drawn).isdigit() and 1900 <= int(drawn) <= 2199:
        return one_of(listed("/v1/tax-years", "year"), drawn)
    return drawn


@schemathesis.hook
def before_call(context, case, kwargs):
    places = case.path_parameters or {}
    if case.meta is not None and case.meta.phase.name != "stateful":
        for name, drawn in places.items():
            places[name] = place_of_the_workshop(case.path, name, drawn)
        body = of_the_workshop(case.body)
        # A body that is set anew is judged anew, which a file does not stand.
        if body != case.body:
            case.body = body
        if case.method.upper() == "POST" and case.path in FOR_SHOW and isinstance(case.query, dict):
            case.query["dry_run"] = "true"
    # It does not revoke the token that it shows itself: whatever came after that would be 401.
    if places.get("id") == OWN:
        places["id"] = NOBODYS
