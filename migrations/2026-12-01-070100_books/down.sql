DO $$
DECLARE
    before_insert text;
BEGIN
    FOR before_insert IN
        SELECT pg_get_triggerdef(t.oid) FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid
        WHERE c.relnamespace = 'public'::regnamespace AND NOT t.tgisinternal AND t.tgtype & 7 = 7
        ORDER BY c.relname, t.tgname
    LOOP
        EXECUTE replace(replace(before_insert, 'CREATE TRIGGER', 'CREATE OR REPLACE TRIGGER'),
                        ' WHEN ((NOT books_are_loaded()))', '');
    END LOOP;
END
$$;
DROP FUNCTION books_are_loaded();
