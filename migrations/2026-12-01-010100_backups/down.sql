DROP TABLE backups_made;
CREATE OR REPLACE PROCEDURE fence(fenced regclass, rights text) LANGUAGE plpgsql AS $$
BEGIN
    EXECUTE format('ALTER TABLE %s ENABLE ROW LEVEL SECURITY', fenced);
    EXECUTE format('ALTER TABLE %s FORCE ROW LEVEL SECURITY', fenced);
    EXECUTE format('CREATE POLICY of_these_books ON %s USING (books_id = current_books()) '
                   'WITH CHECK (books_id = current_books())', fenced);
    EXECUTE format('GRANT %s ON %s TO ledgerboard_service', rights, fenced);
END
$$;
DROP PROCEDURE let_backups_read(regclass);
DO $$
DECLARE
    fenced regclass;
BEGIN
    FOR fenced IN SELECT polrelid FROM pg_policy WHERE polname = 'backup_reads'
    LOOP
        EXECUTE format('DROP POLICY backup_reads ON %s', fenced);
        EXECUTE format('REVOKE SELECT ON %s FROM ledgerboard_backup', fenced);
    END LOOP;
END
$$;
REVOKE USAGE ON SCHEMA public FROM ledgerboard_backup;
