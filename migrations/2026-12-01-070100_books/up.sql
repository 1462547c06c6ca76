-- A set of books comes from another server as a whole, in one statement: the triggers before an insert look at what was
-- there before the row, and what was there comes at the same time. So they stand back; what they hold is asked of the books
-- as a whole before the commit (src/store/backup/importing/holding.rs), and every key and check holds as ever.
CREATE FUNCTION books_are_loaded() RETURNS boolean LANGUAGE plpgsql STABLE AS $$
BEGIN
    IF current_setting('app.loads', true) IS DISTINCT FROM 'whole books' THEN
        RETURN false;
    END IF;
    -- The service may say so as often as it likes: only an owner of the tables is believed.
    RETURN (SELECT pg_has_role(current_user, relowner, 'USAGE') FROM pg_class WHERE oid = 'public.books'::regclass);
END
$$;
COMMENT ON FUNCTION books_are_loaded() IS 'Whether the owner of the tables loads a whole set of books in this transaction.';

DO $$
DECLARE
    before_insert text;
BEGIN
    FOR before_insert IN
        SELECT pg_get_triggerdef(t.oid) FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid
        WHERE c.relnamespace = 'public'::regnamespace AND NOT t.tgisinternal
          -- A bit each: for each row, before, insert.
          AND t.tgtype & 7 = 7
        ORDER BY c.relname, t.tgname
    LOOP
        EXECUTE replace(replace(before_insert, 'CREATE TRIGGER', 'CREATE OR REPLACE TRIGGER'),
                        ' EXECUTE FUNCTION ', ' WHEN (NOT books_are_loaded()) EXECUTE FUNCTION ');
    END LOOP;
END
$$;
