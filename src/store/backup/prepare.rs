//! Makes sure that the role that reads backups sees every table, also on a schema from before that role existed: the
//! backup before an upgrade reads such a schema.

use tokio_postgres::Client;

use super::error::BackupError;
use crate::store::dial::Session;
use crate::store::error::StoreError;

/// The same as the migration of 2026-12-01 does for good; what is there already is left alone, so that a backup of a
/// current schema changes nothing and takes no lock.
const LET_BACKUPS_READ: &str = "
DO $$
DECLARE
    fenced regclass;
BEGIN
    IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'ledgerboard_backup') THEN
        CREATE ROLE ledgerboard_backup NOLOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE NOBYPASSRLS;
        GRANT ledgerboard_backup TO CURRENT_USER;
    ELSIF NOT pg_has_role(current_user, 'ledgerboard_backup', 'MEMBER') THEN
        GRANT ledgerboard_backup TO CURRENT_USER;
    END IF;
    IF NOT has_schema_privilege('ledgerboard_backup', 'public', 'USAGE') THEN
        GRANT USAGE ON SCHEMA public TO ledgerboard_backup;
    END IF;
    FOR fenced IN SELECT oid FROM pg_class c
        WHERE relnamespace = 'public'::regnamespace AND relkind IN ('r', 'p') AND relrowsecurity
          AND NOT EXISTS (SELECT FROM pg_policy WHERE polrelid = c.oid AND polname = 'backup_reads')
    LOOP
        EXECUTE format('CREATE POLICY backup_reads ON %s FOR SELECT TO ledgerboard_backup USING (true)', fenced);
        EXECUTE format('GRANT SELECT ON %s TO ledgerboard_backup', fenced);
    END LOOP;
END
$$";

/// A session of the schema's owner, which ends when it is dropped.
pub(super) async fn connect(owner_url: &str) -> Result<Session, BackupError> {
    Ok(Session::open(owner_url).await.map_err(StoreError::from)?)
}

pub(super) async fn let_backups_read(client: &Client) -> Result<(), BackupError> {
    client.batch_execute(LET_BACKUPS_READ).await.map_err(BackupError::database(
        "prepare the role ledgerboard_backup: the owner needs the right to create roles",
    ))
}
