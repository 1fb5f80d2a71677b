-- Several players, the instruments they play, goals, plans, playing away from the coach, what a
-- teacher set.  `uid` names a row wherever it is copied to (32 hexadecimal digits), so that books can
-- be merged without anything coming twice.  `schema.name_takes` fills the uids of takes.
ALTER TABLE players ADD COLUMN uid TEXT NOT NULL DEFAULT '';
-- The player chosen last is the one who plays.
ALTER TABLE players ADD COLUMN chosen_utc TEXT;
UPDATE players SET uid = lower(hex(randomblob(16)));
CREATE UNIQUE INDEX players_by_uid ON players (uid);

ALTER TABLE takes ADD COLUMN uid TEXT NOT NULL DEFAULT '';
DROP INDEX takes_by_drill;
DROP INDEX takes_by_day;
CREATE INDEX takes_by_drill ON takes (player, drill, id);
CREATE INDEX takes_by_day ON takes (player, day);
CREATE INDEX takes_by_instrument ON takes (player, instrument, id);

-- What a passage is an example of, for the ceilings of scales and of tonguing patterns; 0 notes a
-- click: not known.
ALTER TABLE passages ADD COLUMN scale TEXT;
ALTER TABLE passages ADD COLUMN tonguing TEXT;
ALTER TABLE passages ADD COLUMN notes_a_click REAL NOT NULL DEFAULT 0;

-- The ceiling of one passage at one moment is known once, as it was told last.
DROP INDEX ceilings_by_passage;
DELETE FROM ceilings
    WHERE id NOT IN (SELECT MAX(id) FROM ceilings GROUP BY passage, player, utc);
CREATE UNIQUE INDEX ceilings_by_passage ON ceilings (passage, player, utc);

-- `chosen` is the one taken where a command names none; at most one of a player's.
CREATE TABLE instruments (
    player       INTEGER NOT NULL REFERENCES players (id) ON DELETE CASCADE,
    name         TEXT NOT NULL,
    chosen       INTEGER NOT NULL DEFAULT 0,
    PRIMARY KEY (player, name)
) WITHOUT ROWID;
INSERT INTO instruments (player, name) SELECT DISTINCT player, instrument FROM takes;

-- `goals_json` is what the teacher set, whatever became of the goals.
CREATE TABLE assignments (
    id           INTEGER PRIMARY KEY,
    uid          TEXT NOT NULL,
    player       INTEGER NOT NULL REFERENCES players (id) ON DELETE CASCADE,
    title        TEXT NOT NULL,
    teacher      TEXT NOT NULL,
    words        TEXT NOT NULL,
    due_day      INTEGER,
    received_utc TEXT NOT NULL,
    goals_json   TEXT NOT NULL,
    UNIQUE (player, uid)
);

CREATE TABLE goals (
    player       INTEGER NOT NULL REFERENCES players (id) ON DELETE CASCADE,
    drill        TEXT NOT NULL,
    instrument   TEXT NOT NULL,
    goal_bpm     REAL NOT NULL,
    due_day      INTEGER,
    set_utc      TEXT NOT NULL,
    assignment   INTEGER REFERENCES assignments (id) ON DELETE SET NULL,
    PRIMARY KEY (player, drill, instrument)
) WITHOUT ROWID;

-- The last plan made on each day.
CREATE TABLE plans (
    player       INTEGER NOT NULL REFERENCES players (id) ON DELETE CASCADE,
    instrument   TEXT NOT NULL,
    day          INTEGER NOT NULL,
    made_utc     TEXT NOT NULL,
    concert_day  INTEGER,
    plan_json    TEXT NOT NULL,
    PRIMARY KEY (player, instrument, day)
) WITHOUT ROWID;

-- Playing that the coach did not hear.
CREATE TABLE elsewhere (
    uid          TEXT PRIMARY KEY,
    player       INTEGER NOT NULL REFERENCES players (id) ON DELETE CASCADE,
    day          INTEGER NOT NULL,
    minutes      REAL NOT NULL,
    what         TEXT NOT NULL
) WITHOUT ROWID;
CREATE INDEX elsewhere_by_player ON elsewhere (player, day);
