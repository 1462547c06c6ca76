-- Books that moved to another server stay readable here and take no more changes.
ALTER TABLE books
    ADD COLUMN moved_to text CHECK (moved_to ~ '^https?://[^[:space:]]+$'),
    ADD COLUMN moved_at timestamptz,
    ADD CHECK ((moved_to IS NULL) = (moved_at IS NULL));
COMMENT ON COLUMN books.moved_to IS 'The address where these books are kept now; NULL while they are kept here.';
COMMENT ON COLUMN books.moved_at IS 'Since when they are kept there.';
GRANT UPDATE (moved_to, moved_at) ON books TO ledgerboard_service;

-- Whatever changes the books writes a line of the change log in the same transaction, so this one trigger stops it all.
CREATE FUNCTION books_are_here() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF EXISTS (SELECT FROM books WHERE books_id = NEW.books_id AND moved_to IS NOT NULL) THEN
        RAISE EXCEPTION 'books % have moved', NEW.books_id
            USING ERRCODE = 'check_violation', CONSTRAINT = 'books_are_here';
    END IF;
    RETURN NEW;
END
$$;
CREATE TRIGGER books_are_here BEFORE INSERT ON audit_lines FOR EACH ROW EXECUTE FUNCTION books_are_here();
