"""Records held against their JSON Schemas by an independent validator (jsonschema, draft 2020-12).

    python schemas.py RESULTS

RESULTS holds outline.json and garment.json files, drafted.json too where there are any. They, and the golden ones of the tests, must fit schemas/*.schema.json; records that are
spoilt on purpose must not. Prints a line a schema; exits with 1 when anything is out.
"""

import copy
import json
import sys
from pathlib import Path

from jsonschema import Draft202012Validator

ROOT = Path(__file__).resolve().parents[2]

# What each spoilt record has wrong: where, and the value that stands there (... takes it away).
SPOILT = {
    "outline": [(["version"], 2), (["units"], "in"), (["pieces", 0, "outline"], "M 1 1 Q 2 2 3 3"), (["pieces", 0, "edges", 0, "line"], "hem"), (["views", 0, "model"], "scan"), (["pictures", 0, "blake3"], ...)],
    "drafted": [(["version"], 2), (["pieces", 0, "edges"], []), (["pieces", 0, "notches", 0, "how"], "guessed"), (["pieces", 0, "found"], ...)],
    "garment": [(["format"], "ruboff-outline"), (["pieces", 0, "as_drafted", "down"], "up"), (["pieces", 0, "as_found", "edges"], []), (["notes", "how"], "guessed"), (["garment", "name"], "a bare text")],
}


def spoil(record, where, value):
    out = copy.deepcopy(record)
    at = out
    for key in where[:-1]:
        at = at[key]
    if value is ...:
        del at[where[-1]]
    else:
        at[where[-1]] = value
    return out


def main():
    results, out = Path(sys.argv[1]), 0
    for kind in ("outline", "garment", "drafted"):
        schema = json.loads((ROOT / f"schemas/{kind}.schema.json").read_text())
        Draft202012Validator.check_schema(schema)
        validator = Draft202012Validator(schema)
        files = sorted(results.rglob(f"{kind}.json")) + [ROOT / f"tests/golden/{kind}.json"]
        if len(files) < 2 and kind != "drafted":
            raise SystemExit(f"no {kind}.json to check: {results}")
        for file in files:
            record = json.loads(file.read_text())
            for e in validator.iter_errors(record):
                out += 1
                print(f"  WRONG {file}: {e.json_path}: {e.message[:200]}")
        for where, value in SPOILT[kind]:
            if validator.is_valid(spoil(record, where, value)):
                out += 1
                print(f"  WRONG {kind}: spoilt at {where} and still taken")
        print(f"{kind}: {len(files)} records fit the schema, {len(SPOILT[kind])} spoilt ones do not")
    if out:
        raise SystemExit(f"schemas: {out} things are out")


if __name__ == "__main__":
    main()
