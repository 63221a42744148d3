"""The tables of a recording."""

import sqlite3

# "KTLS" in ASCII: tells a recording from any other SQLite file. FORMAT is the version that the file states.
APPLICATION_ID = 0x4B544C53
FORMAT = 1
SUFFIX = ".cook"

SCHEMA = """
CREATE TABLE about (key TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID;
CREATE TABLE sheet (id INTEGER PRIMARY KEY, known REAL NOT NULL, text TEXT NOT NULL);
CREATE TABLE clock (id INTEGER PRIMARY KEY, cook_time REAL NOT NULL, wall REAL NOT NULL,
    boot_id TEXT NOT NULL, boot_s REAL NOT NULL, rate REAL NOT NULL);
CREATE TABLE channel (id INTEGER PRIMARY KEY, name TEXT NOT NULL, unit TEXT NOT NULL, UNIQUE (name, unit));
-- digest: tells a pack delivered twice
CREATE TABLE pack (id INTEGER PRIMARY KEY, known REAL NOT NULL, seq INTEGER, digest INTEGER);
-- measured is NULL where the time it became known counts, said is the sender's own time where that was not believed
CREATE TABLE reading (id INTEGER PRIMARY KEY, pack INTEGER NOT NULL REFERENCES pack, channel INTEGER NOT NULL
    REFERENCES channel, measured REAL, value REAL, fault TEXT, said REAL);
CREATE TABLE event (id INTEGER PRIMARY KEY, uid TEXT NOT NULL UNIQUE, kind TEXT NOT NULL,
    measured REAL NOT NULL, known REAL NOT NULL, fields TEXT NOT NULL);
CREATE TABLE withdrawal (id INTEGER PRIMARY KEY, uid TEXT NOT NULL, known REAL NOT NULL);
"""
# Made only once a cook is written on, because an imported one never needs it. The text is exactly as SQLite keeps it
# in its own schema, so that the index is recognised as ours.
DIGEST_INDEX = "CREATE INDEX pack_digest ON pack (digest) WHERE digest IS NOT NULL"


def add_later_columns(connection: sqlite3.Connection) -> None:
    """Adds the columns that recordings of older programs lack; those programs still read and write the file then."""
    if "said" not in {row[1] for row in connection.execute("PRAGMA table_info(reading)")}:
        connection.execute("ALTER TABLE reading ADD COLUMN said REAL")
