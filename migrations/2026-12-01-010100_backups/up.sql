-- A backup reads every row of every set of books. It does so as a role of its own, which sees everything and changes
-- nothing; neither the service nor the owner of the schema sees past the row security for it.
DO $$
BEGIN
    IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'ledgerboard_backup') THEN
        CREATE ROLE ledgerboard_backup NOLOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE NOBYPASSRLS;
        GRANT ledgerboard_backup TO CURRENT_USER;
    ELSIF NOT pg_has_role(current_user, 'ledgerboard_backup', 'MEMBER') THEN
        GRANT ledgerboard_backup TO CURRENT_USER;
    END IF;
EXCEPTION WHEN duplicate_object OR unique_violation THEN
    NULL; -- another database of this cluster was migrated at the same moment
END
$$;
GRANT USAGE ON SCHEMA public TO ledgerboard_backup;

CREATE PROCEDURE let_backups_read(fenced regclass) LANGUAGE plpgsql AS $$
BEGIN
    -- The backup before this migration may have made the policy already: see src/store/backup/prepare.rs.
    IF NOT EXISTS (SELECT FROM pg_policy WHERE polrelid = fenced AND polname = 'backup_reads') THEN
        EXECUTE format('CREATE POLICY backup_reads ON %s FOR SELECT TO ledgerboard_backup USING (true)', fenced);
    END IF;
    EXECUTE format('GRANT SELECT ON %s TO ledgerboard_backup', fenced);
END
$$;

DO $$
DECLARE
    fenced regclass;
BEGIN
    FOR fenced IN SELECT oid FROM pg_class
        WHERE relnamespace = 'public'::regnamespace AND relkind IN ('r', 'p') AND relrowsecurity
    LOOP
        CALL let_backups_read(fenced);
    END LOOP;
END
$$;

-- Every table that is fenced from now on is in the backups too.
CREATE OR REPLACE PROCEDURE fence(fenced regclass, rights text) LANGUAGE plpgsql AS $$
BEGIN
    EXECUTE format('ALTER TABLE %s ENABLE ROW LEVEL SECURITY', fenced);
    EXECUTE format('ALTER TABLE %s FORCE ROW LEVEL SECURITY', fenced);
    EXECUTE format('CREATE POLICY of_these_books ON %s USING (books_id = current_books()) '
                   'WITH CHECK (books_id = current_books())', fenced);
    EXECUTE format('GRANT %s ON %s TO ledgerboard_service', rights, fenced);
    CALL let_backups_read(fenced);
END
$$;

CREATE TABLE backups_made (
    taken_at timestamptz PRIMARY KEY,
    finished_at timestamptz NOT NULL
);
COMMENT ON TABLE backups_made IS 'When each finished backup of this database was taken; it is about all books, so it belongs to none.';
COMMENT ON COLUMN backups_made.taken_at IS 'What was committed before is in the backup.';
ALTER TABLE backups_made ENABLE ROW LEVEL SECURITY;
ALTER TABLE backups_made FORCE ROW LEVEL SECURITY;
CREATE POLICY anyone_looks ON backups_made FOR SELECT USING (true);
CREATE POLICY owner_notes ON backups_made FOR INSERT TO CURRENT_USER WITH CHECK (true);
GRANT SELECT ON backups_made TO ledgerboard_service;
CALL let_backups_read('backups_made');
