-- What stood in the way of spreading the tables over several servers by books_id. On one server nothing changes.

-- On a shard TG_TABLE_NAME carries the shard's number, so the key is read from the row itself.
CREATE OR REPLACE FUNCTION entry_balances() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    entry bigint := coalesce(to_jsonb(NEW) ->> 'entry_number', to_jsonb(NEW) ->> 'number')::bigint;
    sum_of numeric;
    lines bigint;
BEGIN
    SELECT coalesce(sum(amount), 0), count(*) INTO sum_of, lines FROM postings
        WHERE books_id = NEW.books_id AND entry_number = entry;
    IF sum_of <> 0 OR lines < 2 THEN
        RAISE EXCEPTION 'entry % is out of balance by % over % postings', entry, sum_of, lines
            USING ERRCODE = 'check_violation', CONSTRAINT = 'entries_balance';
    END IF;
    RETURN NULL;
END
$$;

-- SET CONSTRAINTS stays on the server it is sent to; a row reaches the server where the books are.
CREATE TABLE deferred_checks (
    books_id uuid PRIMARY KEY
);
COMMENT ON TABLE deferred_checks IS 'Always empty: a preview inserts a row, which runs the deferred checks at once, and rolls it back.';
CALL fence('deferred_checks', 'SELECT, INSERT');
CREATE FUNCTION run_deferred_checks() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    SET CONSTRAINTS ALL IMMEDIATE;
    RETURN NULL;
END
$$;
CREATE TRIGGER run_deferred_checks AFTER INSERT ON deferred_checks
    FOR EACH ROW EXECUTE FUNCTION run_deferred_checks();

-- One statement with an index to find the old rows by.
CREATE INDEX idempotency_answers_by_age ON idempotency_answers (at);
CREATE OR REPLACE FUNCTION forget_old_answers() RETURNS bigint
    LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = public AS $$
DECLARE
    -- An hour's worth at a time, so that no call takes long however many there are.
    oldest timestamptz := (SELECT min(at) FROM idempotency_answers);
    forgotten bigint;
BEGIN
    DELETE FROM idempotency_answers WHERE at < least(now() - interval '7 days', oldest + interval '1 hour');
    GET DIAGNOSTICS forgotten = ROW_COUNT;
    RETURN forgotten;
END
$$;
COMMENT ON FUNCTION forget_old_answers() IS 'Deletes an hour''s worth of the answers older than a week and returns how many; 0 when none are left.';

-- The command line finds books by name or id without reading the list of all of them.
CREATE INDEX books_by_name ON books (name);
CREATE FUNCTION books_found(named text, numbered uuid) RETURNS TABLE (books_id uuid, name text, mark text)
    LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = public AS $$
#variable_conflict use_column
BEGIN
    RETURN QUERY SELECT b.books_id, b.name, b.mark FROM books b
        WHERE b.name = named OR b.books_id = numbered ORDER BY b.created_at, b.books_id;
END
$$;
ALTER FUNCTION books_found(text, uuid) OWNER TO ledgerboard_door;
REVOKE ALL ON FUNCTION books_found(text, uuid) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION books_found(text, uuid) TO ledgerboard_service;
COMMENT ON FUNCTION books_found(text, uuid) IS 'The books with that name or that id; called by the command line, never by a request.';
