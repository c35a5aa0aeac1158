-- Version 3: at which end a ride felt so, and events: a leak, a knock, a crack, until an entry clears them.

-- A word of `felt` without a row here was not said of one end.
CREATE TABLE felt_end (
    ride_entry_id TEXT NOT NULL,
    word TEXT NOT NULL,
    axle TEXT NOT NULL CHECK (axle IN ('front', 'rear')),
    PRIMARY KEY (ride_entry_id, word, axle),
    FOREIGN KEY (ride_entry_id, word) REFERENCES felt (ride_entry_id, word)
) STRICT;

CREATE TRIGGER felt_end_no_update BEFORE UPDATE ON felt_end
BEGIN SELECT RAISE(ABORT, 'append-only: felt_end is corrected by a new row'); END;
CREATE TRIGGER felt_end_no_delete BEFORE DELETE ON felt_end
BEGIN SELECT RAISE(ABORT, 'append-only: felt_end is corrected by a new row'); END;
CREATE TRIGGER felt_end_no_overwrite BEFORE INSERT ON felt_end
WHEN EXISTS (SELECT 1 FROM felt_end
    WHERE ride_entry_id = NEW.ride_entry_id AND word = NEW.word AND axle = NEW.axle)
BEGIN SELECT RAISE(ABORT, 'append-only: felt_end holds this already'); END;

CREATE TABLE event (
    ride_entry_id TEXT NOT NULL REFERENCES ride_entry (id),
    what TEXT NOT NULL CHECK (what IN ('found', 'cleared')),
    words TEXT NOT NULL CHECK (words <> ''),
    PRIMARY KEY (ride_entry_id, what, words)
) STRICT;

CREATE TRIGGER event_no_update BEFORE UPDATE ON event
BEGIN SELECT RAISE(ABORT, 'append-only: event is corrected by a new row'); END;
CREATE TRIGGER event_no_delete BEFORE DELETE ON event
BEGIN SELECT RAISE(ABORT, 'append-only: event is corrected by a new row'); END;
CREATE TRIGGER event_no_overwrite BEFORE INSERT ON event
WHEN EXISTS (SELECT 1 FROM event
    WHERE ride_entry_id = NEW.ride_entry_id AND what = NEW.what AND words = NEW.words)
BEGIN SELECT RAISE(ABORT, 'append-only: event holds this already'); END;
