-- Each entry says in which canonical form it was sealed, so that a new form can be used for new entries while the old
-- ones are verified by theirs.
ALTER TABLE entries ADD COLUMN form int NOT NULL DEFAULT 1 CHECK (form > 0);
COMMENT ON COLUMN entries.form IS 'The version of the canonical form that its hash was computed over.';
