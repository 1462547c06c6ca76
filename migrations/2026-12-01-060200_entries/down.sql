DROP FUNCTION books_found(text, uuid);
DROP INDEX books_by_name;
CREATE OR REPLACE FUNCTION forget_old_answers() RETURNS bigint
    LANGUAGE sql VOLATILE SECURITY DEFINER SET search_path = public
    AS $$
        WITH old AS (
            SELECT books_id, key FROM idempotency_answers WHERE at < now() - interval '7 days'
            LIMIT 5000
        ), gone AS (
            DELETE FROM idempotency_answers a USING old
            WHERE a.books_id = old.books_id AND a.key = old.key RETURNING 1
        )
        SELECT count(*) FROM gone
    $$;
COMMENT ON FUNCTION forget_old_answers() IS 'Answers older than a week, at most five thousand a call; says how many.';
DROP INDEX idempotency_answers_by_age;
DROP TABLE deferred_checks;
DROP FUNCTION run_deferred_checks();
CREATE OR REPLACE FUNCTION entry_balances() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    entry bigint;
    sum_of numeric;
    lines bigint;
BEGIN
    entry := CASE TG_TABLE_NAME WHEN 'entries' THEN (to_jsonb(NEW) ->> 'number')::bigint
                                ELSE (to_jsonb(NEW) ->> 'entry_number')::bigint END;
    SELECT coalesce(sum(amount), 0), count(*) INTO sum_of, lines FROM postings
        WHERE books_id = NEW.books_id AND entry_number = entry;
    IF sum_of <> 0 OR lines < 2 THEN
        RAISE EXCEPTION 'entry % is out of balance by % over % postings', entry, sum_of, lines
            USING ERRCODE = 'check_violation', CONSTRAINT = 'entries_balance';
    END IF;
    RETURN NULL;
END
$$;
