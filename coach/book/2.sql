-- Players, passages by version, sessions, tallies, ceilings.  What was heard moves to a table of its
-- own, so that going through the figures of all takes does not go through all that was heard.
-- `schema.bring_over` fills the new tables from takes_1 and drops it.
CREATE TABLE players (
    id           INTEGER PRIMARY KEY,
    name         TEXT NOT NULL UNIQUE
);
INSERT INTO players (id, name) VALUES (1, 'player');

-- One row a version: the same notes with other fingerings or syllables are another row.
CREATE TABLE passages (
    id           INTEGER PRIMARY KEY,
    drill        TEXT NOT NULL,
    instrument   TEXT NOT NULL,
    notes        INTEGER NOT NULL,
    digest       TEXT NOT NULL,
    passage_json TEXT NOT NULL,
    UNIQUE (drill, instrument, digest)
);

-- `ended` is empty for one that was killed.
CREATE TABLE sessions (
    id           INTEGER PRIMARY KEY,
    player       INTEGER NOT NULL REFERENCES players (id) ON DELETE CASCADE,
    started_utc  TEXT NOT NULL,
    command      TEXT NOT NULL,
    ended_utc    TEXT,
    ended        TEXT
);

DROP INDEX takes_by_drill;
ALTER TABLE takes RENAME TO takes_1;

-- `day` is the player's calendar day when it was kept, counted from 0001-01-01 (date.toordinal).
CREATE TABLE takes (
    id           INTEGER PRIMARY KEY,
    kept_utc     TEXT NOT NULL,
    day          INTEGER NOT NULL,
    player       INTEGER NOT NULL REFERENCES players (id) ON DELETE CASCADE,
    session      INTEGER REFERENCES sessions (id) ON DELETE SET NULL,
    passage      INTEGER REFERENCES passages (id),
    drill        TEXT NOT NULL,
    title        TEXT NOT NULL,
    instrument   TEXT NOT NULL,
    rules        TEXT NOT NULL,
    tempo_bpm    REAL NOT NULL,
    notes        INTEGER NOT NULL,
    clean        INTEGER NOT NULL,
    counted      INTEGER NOT NULL,
    accuracy     REAL NOT NULL,
    passed       INTEGER NOT NULL,
    lost_frames  INTEGER NOT NULL,
    seconds      REAL NOT NULL,
    offset_ms    REAL,
    evenness_cv  REAL,
    spread_ms    REAL
);
CREATE INDEX takes_by_drill ON takes (drill, id);
CREATE INDEX takes_by_day ON takes (day);
CREATE INDEX takes_by_session ON takes (session);
CREATE INDEX takes_by_passage ON takes (passage);

-- JSON packed with zlib: the take as it was heard, the report as it was given.
CREATE TABLE evidence (
    take         INTEGER PRIMARY KEY REFERENCES takes (id) ON DELETE CASCADE,
    take_z       BLOB NOT NULL,
    report_z     BLOB NOT NULL
);

CREATE TABLE tallies (
    player       INTEGER NOT NULL REFERENCES players (id) ON DELETE CASCADE,
    instrument   TEXT NOT NULL,
    kind         TEXT NOT NULL,
    name         TEXT NOT NULL,
    day          INTEGER NOT NULL,
    count        INTEGER NOT NULL,
    clean        INTEGER NOT NULL,
    n_values     INTEGER NOT NULL,
    total        REAL NOT NULL,
    squares      REAL NOT NULL,
    PRIMARY KEY (player, instrument, kind, name, day)
) WITHOUT ROWID;

CREATE TABLE ceilings (
    id           INTEGER PRIMARY KEY,
    player       INTEGER NOT NULL REFERENCES players (id) ON DELETE CASCADE,
    passage      INTEGER NOT NULL REFERENCES passages (id),
    utc          TEXT NOT NULL,
    day          INTEGER NOT NULL,
    estimate_bpm REAL NOT NULL,
    low_bpm      REAL NOT NULL,
    high_bpm     REAL NOT NULL
);
CREATE INDEX ceilings_by_passage ON ceilings (passage, id);
