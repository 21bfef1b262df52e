"""The same work as the journal's, with Python's own sqlite3 and json.

Called by the benchmark ten_years with what to do and the file to do it with: `fold_json` a file of
events as JSON, `fold_rows` a shop's file, `commits` a file to write and how many commits to make.
Prints one figure: seconds, or commits a second.
"""

import json
import random
import sqlite3
import sys
import time


def fold(events):
    """Each firing's readings, looks and state, from (firing, at, fields) in order."""
    firings = {}
    for firing, at, fields in events:
        kind = fields["event"]
        known = firings.get(firing)
        if known is None:
            known = firings[firing] = {"state": "planned", "readings": [], "looks": [], "notes": []}
        if kind == "reading":
            known["readings"].append((at, fields["celsius"]))
            if known["state"] == "off":
                known["state"] = "cooling"
        elif kind == "lit":
            known.update(lit=at, kiln=fields["kiln"], load_type=fields["load_type"], state="lit")
        elif kind == "look":
            known["looks"].append((at, fields))
            known["state"] = "dropped" if fields.get("target") == "down" else "watching"
        elif kind == "off":
            known.update(off=at, state="off")
        elif kind == "drawn":
            known.update(drawn=at, state="drawn")
        elif kind == "outcome":
            known.update(outcome=(at, fields), state="closed")
        elif kind == "note":
            known["notes"].append((at, fields["text"]))
    return firings


def fold_json(path):
    rows = sqlite3.connect(path).execute("SELECT firing, at_ms, body FROM events ORDER BY id")
    return fold((firing, at, json.loads(body)) for firing, at, body in rows)


def fold_rows(path):
    """Our own file: readings need no JSON there."""
    connection = sqlite3.connect(path)
    kinds = dict(connection.execute("SELECT id, name FROM kinds"))

    def events():
        rows = connection.execute("SELECT firing, at_ms, kind, celsius, body FROM events ORDER BY id")
        for firing, at, kind, celsius, body in rows:
            if celsius is not None:
                yield firing, at, {"event": "reading", "celsius": celsius}
            else:
                fields = json.loads(body)
                fields["event"] = kinds[kind]
                yield firing, at, fields

    return fold(events())


def commits_per_second(path, count):
    """One row a commit, with the same settings and the same unique index."""
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute(
        "CREATE TABLE events (id INTEGER PRIMARY KEY, firing INTEGER NOT NULL, uid INTEGER NOT NULL,"
        " at_ms INTEGER NOT NULL, body TEXT NOT NULL)"
    )
    connection.execute("CREATE UNIQUE INDEX events_of_firing ON events (firing, uid)")
    start = time.perf_counter()
    for n in range(count):
        body = json.dumps({"event": "reading", "celsius": n / 10})
        connection.execute("BEGIN IMMEDIATE")
        connection.execute(
            "INSERT INTO events (firing, uid, at_ms, body) VALUES (1, ?, ?, ?)",
            (random.getrandbits(47), 1000 * n, body),
        )
        connection.execute("COMMIT")
    return count / (time.perf_counter() - start)


def seconds(work):
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def main():
    work, path, *rest = sys.argv[1:]
    if work == "fold_json":
        print(seconds(lambda: fold_json(path)))
    elif work == "fold_rows":
        print(seconds(lambda: fold_rows(path)))
    elif work == "commits":
        print(commits_per_second(path, int(rest[0])))
    else:
        sys.exit(f"{work} is no work of this script: fold_json, fold_rows or commits")


if __name__ == "__main__":
    main()
