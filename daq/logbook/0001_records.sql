-- Layout 1 of a restpoint logbook. Never edit this file: a later layout is a new numbered file.

-- "RSPT": tells a logbook from any other SQLite file.
PRAGMA application_id = 0x52535054;

CREATE TABLE meta (
    only INTEGER PRIMARY KEY CHECK (only = 1),
    id TEXT NOT NULL
) STRICT;

-- The record is the whole truth: its kind and time are inside it and nowhere else, so that no
-- column can disagree with it.
CREATE TABLE records (
    sequence INTEGER PRIMARY KEY,
    previous TEXT NOT NULL,
    hash TEXT NOT NULL,
    body TEXT NOT NULL
) STRICT;

CREATE TRIGGER records_are_never_changed BEFORE UPDATE ON records
BEGIN SELECT RAISE(ABORT, 'a logbook is append-only: a record is never changed'); END;

CREATE TRIGGER records_are_never_removed BEFORE DELETE ON records
BEGIN SELECT RAISE(ABORT, 'a logbook is append-only: a record is never removed'); END;

CREATE TRIGGER records_come_in_order BEFORE INSERT ON records
WHEN NEW.sequence IS NOT (SELECT coalesce(max(sequence), 0) + 1 FROM records)
BEGIN SELECT RAISE(ABORT, 'a logbook is append-only: the next record takes the next number'); END;

CREATE TRIGGER records_are_linked BEFORE INSERT ON records
WHEN NEW.previous IS NOT (SELECT hash FROM records ORDER BY sequence DESC LIMIT 1)
    AND EXISTS (SELECT 1 FROM records)
BEGIN SELECT RAISE(ABORT, 'a logbook is a chain: a record carries the hash of the one before'); END;

CREATE TRIGGER meta_is_never_replaced BEFORE INSERT ON meta WHEN EXISTS (SELECT 1 FROM meta)
BEGIN SELECT RAISE(ABORT, 'a logbook keeps its id'); END;

CREATE TRIGGER meta_is_never_changed BEFORE UPDATE ON meta
BEGIN SELECT RAISE(ABORT, 'a logbook keeps its id'); END;

CREATE TRIGGER meta_is_never_removed BEFORE DELETE ON meta
BEGIN SELECT RAISE(ABORT, 'a logbook keeps its id'); END;
