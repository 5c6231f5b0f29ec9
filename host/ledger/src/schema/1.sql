-- The ledger, version 1. Every table of records is append-only: a correction is a later record.
-- Columns in common: id is a UUID (16 bytes), ledger the UUID of the file it was first written to,
-- sequence a counter that grows within a file and over merges (a Lamport clock), at_us microseconds
-- since 1970-01-01 UTC.

CREATE TABLE ledger (
    key         INTEGER PRIMARY KEY CONSTRAINT only_one CHECK (key = 1),
    id          BLOB NOT NULL UNIQUE CONSTRAINT id_size CHECK (length(id) = 16),
    created_us  INTEGER NOT NULL
) STRICT;

CREATE TABLE lot (
    key         INTEGER PRIMARY KEY,
    id          BLOB NOT NULL UNIQUE CONSTRAINT id_size CHECK (length(id) = 16),
    ledger      BLOB NOT NULL CONSTRAINT ledger_size CHECK (length(ledger) = 16),
    sequence    INTEGER NOT NULL CONSTRAINT sequence_range CHECK (sequence BETWEEN 1 AND 9007199254740991),
    at_us       INTEGER NOT NULL,
    name        TEXT NOT NULL COLLATE NOCASE UNIQUE
                CONSTRAINT lot_name_length CHECK (length(name) BETWEEN 1 AND 100)
                CONSTRAINT lot_name_trimmed CHECK (name = trim(name)),
    description TEXT CONSTRAINT description_length CHECK (length(description) BETWEEN 1 AND 10000)
) STRICT;

-- What many insertions share.
CREATE TABLE type (
    key         INTEGER PRIMARY KEY,
    name        TEXT NOT NULL CONSTRAINT type_name_length CHECK (length(name) BETWEEN 1 AND 100),
    part        TEXT NOT NULL CONSTRAINT part_length CHECK (length(part) <= 100),
    family      TEXT NOT NULL CONSTRAINT family_length CHECK (length(family) <= 100),
    package     TEXT NOT NULL CONSTRAINT package_length CHECK (length(package) <= 100),
    UNIQUE (name, part, family, package)
) STRICT;

CREATE TABLE tester (
    key         INTEGER PRIMARY KEY,
    name        TEXT NOT NULL CONSTRAINT tester_length CHECK (length(name) BETWEEN 1 AND 200),
    nature      TEXT NOT NULL
                CONSTRAINT nature_known CHECK (nature IN ('real', 'emulated', 'simulated')),
    firmware    TEXT NOT NULL CONSTRAINT firmware_length CHECK (length(firmware) BETWEEN 1 AND 100),
    UNIQUE (name, nature, firmware)
) STRICT;

CREATE TABLE insertion (
    key          INTEGER PRIMARY KEY,
    id           BLOB NOT NULL UNIQUE CONSTRAINT id_size CHECK (length(id) = 16),
    ledger       BLOB NOT NULL CONSTRAINT ledger_size CHECK (length(ledger) = 16),
    sequence     INTEGER NOT NULL CONSTRAINT sequence_range CHECK (sequence BETWEEN 1 AND 9007199254740991),
    at_us        INTEGER NOT NULL,
    lot          INTEGER NOT NULL REFERENCES lot (key),
    type         INTEGER NOT NULL REFERENCES type (key),
    tester       INTEGER NOT NULL REFERENCES tester (key),
    -- The chip's first insertion, where this one repeats it.
    first        INTEGER REFERENCES insertion (key),
    marking      TEXT NOT NULL CONSTRAINT marking_length CHECK (length(marking) <= 200),
    date_code    TEXT CONSTRAINT date_code_form
                 CHECK (date_code GLOB '[0-9][0-9][0-9][0-9]-W[0-5][0-9]'),
    program_hash BLOB CONSTRAINT program_hash_size CHECK (length(program_hash) BETWEEN 4 AND 64),
    verdict      TEXT NOT NULL CONSTRAINT verdict_known
                 CHECK (verdict IN ('go', 'no-go', 'not-decided', 'refused', 'trouble')),
    reason       TEXT NOT NULL
                 CONSTRAINT reason_form CHECK (length(reason) BETWEEN 1 AND 40)
                 CONSTRAINT reason_letters CHECK (reason NOT GLOB '*[^a-z0-9-]*'),
    explanation  TEXT CONSTRAINT explanation_length CHECK (length(explanation) BETWEEN 1 AND 10000),
    supply_mv    INTEGER CONSTRAINT supply_range CHECK (supply_mv BETWEEN 0 AND 100000),
    steps        INTEGER NOT NULL CONSTRAINT steps_range CHECK (steps BETWEEN 0 AND 4294967295),
    failures     INTEGER NOT NULL CONSTRAINT failures_range CHECK (failures BETWEEN 0 AND 4294967295),
    speed_grade  TEXT CONSTRAINT speed_grade_length CHECK (length(speed_grade) BETWEEN 1 AND 40),
    memory_map   BLOB CONSTRAINT memory_map_size CHECK (length(memory_map) BETWEEN 1 AND 1048576),
    note         TEXT CONSTRAINT note_length CHECK (length(note) BETWEEN 1 AND 10000),
    CONSTRAINT go_ran_without_failure
        CHECK (verdict <> 'go' OR (failures = 0 AND program_hash IS NOT NULL)),
    CONSTRAINT refused_ran_nothing CHECK (verdict <> 'refused' OR steps = 0)
) STRICT;

-- Whole reports are read from this index alone.
CREATE INDEX insertion_report
    ON insertion (lot, type, verdict, speed_grade, date_code, tester, at_us);
-- The last of a ledger and the last of a lot are found at once, however many there are.
CREATE INDEX insertion_sequence ON insertion (sequence);
CREATE INDEX insertion_lot ON insertion (lot, sequence, id);
CREATE INDEX insertion_map ON insertion (lot, sequence) WHERE memory_map IS NOT NULL;
CREATE INDEX insertion_first ON insertion (first) WHERE first IS NOT NULL;

CREATE TABLE failing_pin (
    insertion   INTEGER NOT NULL REFERENCES insertion (key),
    pin         INTEGER NOT NULL CONSTRAINT pin_range CHECK (pin BETWEEN 1 AND 255),
    name        TEXT NOT NULL CONSTRAINT pin_name_length CHECK (length(name) <= 100),
    low         INTEGER NOT NULL CONSTRAINT low_range CHECK (low BETWEEN 0 AND 4294967295),
    high        INTEGER NOT NULL CONSTRAINT high_range CHECK (high BETWEEN 0 AND 4294967295),
    held        INTEGER NOT NULL CONSTRAINT held_range CHECK (held BETWEEN 0 AND 4294967295),
    open        INTEGER NOT NULL CONSTRAINT open_flag CHECK (open IN (0, 1)),
    CONSTRAINT pin_failed CHECK (low + high + held + open > 0),
    PRIMARY KEY (insertion, pin)
) STRICT, WITHOUT ROWID;

CREATE TABLE current (
    insertion    INTEGER NOT NULL REFERENCES insertion (key),
    what         TEXT NOT NULL CONSTRAINT what_length CHECK (length(what) BETWEEN 1 AND 100),
    microamperes INTEGER NOT NULL
                 CONSTRAINT current_range CHECK (abs(microamperes) <= 100000000),
    PRIMARY KEY (insertion, what)
) STRICT, WITHOUT ROWID;

CREATE TABLE undo (
    key         INTEGER PRIMARY KEY,
    id          BLOB NOT NULL UNIQUE CONSTRAINT id_size CHECK (length(id) = 16),
    ledger      BLOB NOT NULL CONSTRAINT ledger_size CHECK (length(ledger) = 16),
    sequence    INTEGER NOT NULL CONSTRAINT sequence_range CHECK (sequence BETWEEN 1 AND 9007199254740991),
    at_us       INTEGER NOT NULL,
    insertion   INTEGER NOT NULL REFERENCES insertion (key),
    reason      TEXT CONSTRAINT undo_reason_length CHECK (length(reason) BETWEEN 1 AND 10000)
) STRICT;
-- Not unique: two benches may each have undone the same insertion before they merge.
CREATE INDEX undo_insertion ON undo (insertion);

CREATE TABLE remark (
    key         INTEGER PRIMARY KEY,
    id          BLOB NOT NULL UNIQUE CONSTRAINT id_size CHECK (length(id) = 16),
    ledger      BLOB NOT NULL CONSTRAINT ledger_size CHECK (length(ledger) = 16),
    sequence    INTEGER NOT NULL CONSTRAINT sequence_range CHECK (sequence BETWEEN 1 AND 9007199254740991),
    at_us       INTEGER NOT NULL,
    lot         INTEGER REFERENCES lot (key),
    insertion   INTEGER REFERENCES insertion (key),
    kind        TEXT NOT NULL CONSTRAINT kind_known CHECK (kind IN ('note', 'photo')),
    text        TEXT NOT NULL CONSTRAINT text_length CHECK (length(text) BETWEEN 1 AND 10000),
    CONSTRAINT one_subject CHECK ((lot IS NULL) <> (insertion IS NULL))
) STRICT;
CREATE INDEX remark_lot ON remark (lot) WHERE lot IS NOT NULL;
CREATE INDEX remark_insertion ON remark (insertion) WHERE insertion IS NOT NULL;

CREATE TABLE selftest (
    key         INTEGER PRIMARY KEY,
    id          BLOB NOT NULL UNIQUE CONSTRAINT id_size CHECK (length(id) = 16),
    ledger      BLOB NOT NULL CONSTRAINT ledger_size CHECK (length(ledger) = 16),
    sequence    INTEGER NOT NULL CONSTRAINT sequence_range CHECK (sequence BETWEEN 1 AND 9007199254740991),
    at_us       INTEGER NOT NULL,
    tester      INTEGER NOT NULL REFERENCES tester (key),
    passed      INTEGER NOT NULL CONSTRAINT passed_flag CHECK (passed IN (0, 1)),
    lines       TEXT NOT NULL CONSTRAINT lines_json CHECK (json_valid(lines))
) STRICT;
CREATE INDEX selftest_tester ON selftest (tester, at_us);

-- Insertions that a later one of the same chip replaces; undone ones replace nothing.
CREATE VIEW superseded AS
SELECT key FROM (
    SELECT key, row_number() OVER (PARTITION BY root ORDER BY sequence DESC, id DESC) AS rank
    FROM (
        SELECT first AS root, key, sequence, id FROM insertion WHERE first IS NOT NULL
        UNION ALL
        SELECT key, key, sequence, id FROM insertion
        WHERE key IN (SELECT first FROM insertion WHERE first IS NOT NULL)
    )
    WHERE key NOT IN (SELECT insertion FROM undo)
)
WHERE rank > 1;

-- One insertion for each chip: the last that was not undone.
CREATE VIEW counted AS
SELECT * FROM insertion
WHERE key NOT IN (SELECT insertion FROM undo) AND key NOT IN (SELECT key FROM superseded);

CREATE TRIGGER retest_of_first BEFORE INSERT ON insertion WHEN NEW.first IS NOT NULL
BEGIN
    SELECT RAISE(ABORT, 'a repeated insertion names a first one of the same lot')
    WHERE NOT EXISTS (
        SELECT 1 FROM insertion AS earlier
        WHERE earlier.key = NEW.first AND earlier.first IS NULL AND earlier.lot = NEW.lot
    );
END;

CREATE TRIGGER go_has_no_failing_pin BEFORE INSERT ON failing_pin
BEGIN
    SELECT RAISE(ABORT, 'a good chip has no failing pin')
    WHERE (SELECT verdict FROM insertion WHERE key = NEW.insertion) = 'go';
END;

-- Append-only.
CREATE TRIGGER ledger_no_update BEFORE UPDATE ON ledger
BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END;
CREATE TRIGGER ledger_no_delete BEFORE DELETE ON ledger
BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END;
CREATE TRIGGER lot_no_update BEFORE UPDATE ON lot
BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END;
CREATE TRIGGER lot_no_delete BEFORE DELETE ON lot
BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END;
CREATE TRIGGER type_no_update BEFORE UPDATE ON type
BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END;
CREATE TRIGGER type_no_delete BEFORE DELETE ON type
BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END;
CREATE TRIGGER tester_no_update BEFORE UPDATE ON tester
BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END;
CREATE TRIGGER tester_no_delete BEFORE DELETE ON tester
BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END;
CREATE TRIGGER insertion_no_update BEFORE UPDATE ON insertion
BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END;
CREATE TRIGGER insertion_no_delete BEFORE DELETE ON insertion
BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END;
CREATE TRIGGER failing_pin_no_update BEFORE UPDATE ON failing_pin
BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END;
CREATE TRIGGER failing_pin_no_delete BEFORE DELETE ON failing_pin
BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END;
CREATE TRIGGER current_no_update BEFORE UPDATE ON current
BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END;
CREATE TRIGGER current_no_delete BEFORE DELETE ON current
BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END;
CREATE TRIGGER undo_no_update BEFORE UPDATE ON undo
BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END;
CREATE TRIGGER undo_no_delete BEFORE DELETE ON undo
BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END;
CREATE TRIGGER remark_no_update BEFORE UPDATE ON remark
BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END;
CREATE TRIGGER remark_no_delete BEFORE DELETE ON remark
BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END;
CREATE TRIGGER selftest_no_update BEFORE UPDATE ON selftest
BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END;
CREATE TRIGGER selftest_no_delete BEFORE DELETE ON selftest
BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END;
