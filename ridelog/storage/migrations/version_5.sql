-- Version 5: readings of a photo in which a person set the marks.

ALTER TABLE provenance ADD COLUMN by_hand INTEGER NOT NULL DEFAULT 0
    CHECK (by_hand IN (0, 1) AND (by_hand = 0 OR source = 'photo'));
