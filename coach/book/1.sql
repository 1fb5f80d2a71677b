-- One row a finished take; everything heard is kept, so that later rules can judge it again.
CREATE TABLE takes (
    id           INTEGER PRIMARY KEY,
    kept_utc     TEXT NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ', 'now')),
    drill        TEXT NOT NULL,
    title        TEXT NOT NULL,
    instrument   TEXT NOT NULL,
    rules        TEXT NOT NULL,
    tempo_bpm    REAL NOT NULL,
    notes        INTEGER NOT NULL,
    accuracy     REAL NOT NULL,
    passed       INTEGER NOT NULL,
    lost_frames  INTEGER NOT NULL,
    take_json    TEXT NOT NULL,
    report_json  TEXT NOT NULL
);
CREATE INDEX takes_by_drill ON takes (drill, id);
