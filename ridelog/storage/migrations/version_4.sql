-- Version 4: the counts at which sag was measured.

CREATE TABLE sag_setting (
    id TEXT PRIMARY KEY NOT NULL CHECK (length(id) = 32),
    sag_session_id TEXT NOT NULL REFERENCES sag_session (id),
    leg TEXT NOT NULL
        CHECK (leg IN ('front', 'front-left', 'front-right', 'rear', 'rear-left', 'rear-right')),
    adjuster TEXT NOT NULL CHECK (adjuster <> ''),
    kind TEXT NOT NULL CHECK (kind IN ('turns', 'clicks', 'positions')),
    count REAL CHECK (count BETWEEN 0 AND 1000),
    counted_from TEXT NOT NULL CHECK (counted_from IN ('soft', 'hard')),
    confidence TEXT NOT NULL CHECK (confidence IN ('counted', 'in-doubt', 'unknown')),
    provenance_id TEXT NOT NULL REFERENCES provenance (id),
    UNIQUE (sag_session_id, leg, adjuster),
    CHECK ((count IS NULL) = (confidence = 'unknown'))
) STRICT;

CREATE TRIGGER sag_setting_no_update BEFORE UPDATE ON sag_setting
BEGIN SELECT RAISE(ABORT, 'append-only: sag_setting is corrected by a new session'); END;
CREATE TRIGGER sag_setting_no_delete BEFORE DELETE ON sag_setting
BEGIN SELECT RAISE(ABORT, 'append-only: sag_setting is corrected by a new session'); END;
CREATE TRIGGER sag_setting_no_overwrite BEFORE INSERT ON sag_setting
WHEN EXISTS (SELECT 1 FROM sag_setting WHERE id = NEW.id
    OR (sag_session_id = NEW.sag_session_id AND leg = NEW.leg AND adjuster = NEW.adjuster))
BEGIN SELECT RAISE(ABORT, 'append-only: sag_setting holds this already'); END;
