//! Books of other versions: older ones are backed up and migrated, newer ones are refused in words.

use ledgerboard::store::backup::{self, BackupFile};
use ledgerboard::store::connect::migrate;
use ledgerboard::store::versions::{Standing, mark_verified, standing};

use super::{a_root, fixture, is_refused, path, runs};
use crate::demo::on_a_private_server;
use crate::world::server::postgresql_15_to_18;
use crate::world::{World, an_empty_database};

#[tokio::test(flavor = "multi_thread")]
async fn books_of_a_newer_version_are_refused_in_words_and_left_as_they_are() {
    let (world, url) = tokio::task::spawn_blocking(|| {
        let world = World::open();
        world.stop_serving();
        let newer = "INSERT INTO __diesel_schema_migrations VALUES ('20991231010100', now())";
        world.try_as_superuser(newer).unwrap();
        let url = world.url();
        (world, url)
    })
    .await
    .unwrap();
    let refused = migrate(&url).await.unwrap_err().to_string();
    for part in ["newer version of Ledgerboard", "20991231010100", "restore a backup"] {
        assert!(refused.contains(part), "{refused}");
    }
    tokio::task::spawn_blocking(move || {
        let older = "DELETE FROM __diesel_schema_migrations WHERE version = '20991231010100'";
        world.try_as_superuser(older).unwrap();
    })
    .await
    .unwrap();
    migrate(&url).await.expect("the control: without that migration they are taken");
}

/// The owner of a managed server is no superuser: row security holds the owner too, and triggers of the system stay on.
#[tokio::test(flavor = "multi_thread")]
async fn an_owner_who_is_no_superuser_restores_migrates_and_backs_up_again() {
    let url = tokio::task::spawn_blocking(|| an_empty_database("owned_by_another", Some("another_owner")))
        .await
        .unwrap();
    let file = BackupFile { path: fixture("demo-2026-11-25.tar.gz"), identity: None };
    let manifest = backup::checked(&file).unwrap();
    backup::insist_on_empty(&url).await.unwrap();
    backup::load(&url, &file, &manifest, &|_| ()).await.unwrap();
    assert!(matches!(standing(&url).await.unwrap(), Standing::Older { .. }));
    // Before it is migrated: the rows are the same to the byte, read by a role that the old schema does not have.
    let folder = tempfile::tempdir().unwrap();
    let again = folder.path().join("again.tar.gz");
    let to = backup::Destination::named(&again);
    let refused = backup::take(&url, &to, &[], &|_| ()).await.unwrap_err().to_string();
    assert!(refused.contains("interrupted before it had verified"), "{refused}");
    mark_verified(&url).await.unwrap();
    let taken = backup::take(&url, &to, &[], &|_| ()).await.unwrap();
    assert_eq!(taken.manifest.tables, manifest.tables);
    assert_eq!(taken.manifest.books, manifest.books);
    migrate(&url).await.unwrap();
    assert_eq!(standing(&url).await.unwrap(), Standing::Current);
    let to = backup::Destination::named(&folder.path().join("migrated.tar.gz"));
    let taken = backup::take(&url, &to, &[], &|_| ()).await.unwrap();
    backup::note(&url, &taken).await.unwrap();
    let rows = |name: &str| taken.manifest.tables.iter().find(|table| table.name == name).unwrap().rows;
    assert!(
        rows("entries") > 50 && rows("token_directory") == rows("tokens"),
        "{:#?}",
        taken.manifest.tables
    );
    let refused = backup::insist_on_empty(&url).await.unwrap_err().to_string();
    assert!(refused.contains("not empty"), "{refused}");
    backup::clear(&url).await.unwrap();
    backup::insist_on_empty(&url).await.unwrap();
    assert_eq!(standing(&url).await.unwrap(), Standing::New);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_backup_whose_rows_do_not_fit_together_leaves_an_empty_database() {
    let url = tokio::task::spawn_blocking(|| an_empty_database("left_empty", None)).await.unwrap();
    let file = BackupFile { path: fixture("demo-2026-11-25.tar.gz"), identity: None };
    let mut manifest = backup::checked(&file).unwrap();
    manifest.tables.retain(|table| table.name != "postings");
    let refused = backup::load(&url, &file, &manifest, &|_| ()).await.unwrap_err().to_string();
    assert!(refused.contains("damaged"), "{refused}");
    backup::clear(&url).await.unwrap();
    backup::insist_on_empty(&url).await.unwrap();
}

/// What a restore leaves that is killed after it has loaded the rows and before it has verified them.
#[tokio::test(flavor = "multi_thread")]
async fn rows_of_a_restore_that_was_killed_before_it_verified_are_not_opened_and_may_be_restored_over() {
    let root = a_root();
    let books = root.path().join("books");
    let file = BackupFile { path: fixture("demo-2026-11-25.tar.gz"), identity: None };
    let manifest = backup::checked(&file).unwrap();
    on_a_private_server(&books, async |url| {
        backup::load(&url, &file, &manifest, &|_| ()).await.unwrap();
    })
    .await;
    let place = ["--data-dir", path(&books)];
    let copy = root.path().join("copy.tar.gz");
    for command in
        [&["verify"][..], &["token", "--books", "Fernbank Workshop (demo)"], &["backup", "--to", path(&copy)]]
    {
        let said = is_refused(&[command, &place].concat());
        assert!(
            said.contains("interrupted before it had verified") && said.contains("ledgerboard restore"),
            "{said}"
        );
    }
    runs(&[&["restore", "--from", path(&file.path)][..], &place].concat());
    // The control: once verified, they open, and are not restored over.
    runs(&[&["verify"][..], &place].concat());
    let said = is_refused(&[&["restore", "--from", path(&file.path)][..], &place].concat());
    assert!(said.contains("not empty"), "{said}");
}

#[tokio::test(flavor = "multi_thread")]
async fn books_of_an_older_version_are_backed_up_before_they_are_migrated() {
    let root = a_root();
    let books = root.path().join("books");
    let file = BackupFile { path: fixture("demo-2026-11-25.tar.gz"), identity: None };
    let manifest = backup::checked(&file).unwrap();
    on_a_private_server(&books, async |url| {
        backup::load(&url, &file, &manifest, &|_| ()).await.unwrap();
        mark_verified(&url).await.unwrap();
    })
    .await;
    runs(&["verify", "--data-dir", path(&books)]);
    let made: Vec<_> = std::fs::read_dir(books.join("backups")).unwrap().flatten().collect();
    assert_eq!(made.len(), 1, "{made:?}");
    let kept = BackupFile { path: made[0].path(), identity: None };
    let kept = backup::checked(&kept).unwrap();
    assert_eq!((kept.migrations, kept.books), (manifest.migrations, manifest.books));
    // The control: books of this version are not backed up again at the next start.
    runs(&["verify", "--data-dir", path(&books)]);
    assert_eq!(std::fs::read_dir(books.join("backups")).unwrap().count(), 1);
}

/// From each major version to the next: backup with the old programs, restore with the new.
#[test]
fn books_move_through_postgresql_15_to_18_by_backup_and_restore() {
    let root = a_root();
    let mut file = fixture("demo-2026-11-25.tar.gz");
    let mut verified: Option<String> = None;
    for (major, programs) in &postgresql_15_to_18() {
        let books = root.path().join(format!("on-{major}"));
        let place = ["--data-dir", path(&books), "--pg-bin", path(programs)];
        runs(&[&["restore", "--from", path(&file)][..], &place].concat());
        assert!(books.join(format!("postgres-{major}")).is_dir(), "the restore used {}", programs.display());
        let said = runs(&[&["verify"][..], &place].concat());
        assert_eq!(verified.get_or_insert_with(|| said.clone()), &said, "on {major} it verifies as before");
        let next = root.path().join(format!("from-{major}.tar.gz"));
        runs(&[&["backup", "--to", path(&next)][..], &place].concat());
        file = next;
    }
}
