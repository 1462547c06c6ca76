//! One set of books from one server to another, beside books that are used meanwhile.

mod program;
mod tampered;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::Duration;

use age::secrecy::ExposeSecret;
use ledgerboard::rules::ids::BooksId;
use ledgerboard::rules::tokens::ShownToken;
use ledgerboard::store::audit::Act;
use ledgerboard::store::backup::{
    self, BackupError, BackupFile, Imported, Recipient, TableInBackup, Taken, checked_export,
};
use ledgerboard::store::books::Books;
use ledgerboard::store::connect::migrate;
use ledgerboard::store::error::StoreError;
use serde_json::{Value, json};
use tempfile::TempDir;

use crate::backup::files::repacked;
use crate::documents::files::jpeg;
use crate::wire::comes_true_within;
use crate::world::workshop::workshop;
use crate::world::{Caller, World, an_empty_database};

const ELSEWHERE: &str = "https://books-2.example/";

fn id_of(owner: &Caller) -> BooksId {
    BooksId(owner.reads("/v1/books")["id"].as_str().unwrap().parse().unwrap())
}

fn act() -> Act {
    Act::outside("a test")
}

fn marks(world: &World, id: BooksId) {
    let books = Books::of(world.database(), id);
    world.waits_for(books.move_to(&act(), &ELSEWHERE.parse().unwrap())).unwrap();
}

fn exports(world: &World, id: BooksId, to: &Path) -> Taken {
    world.waits_for(backup::export(&world.url(), to, id, &[], &|_| ())).unwrap()
}

fn file_at(path: &Path) -> BackupFile {
    BackupFile { path: path.to_path_buf(), identity: None }
}

async fn takes_in(url: &str, file: &BackupFile) -> Result<Imported, BackupError> {
    let export = checked_export(file)?;
    backup::import(url, &export, &act(), &|_| ()).await
}

fn imports(world: &World, file: &Path) -> Result<Imported, BackupError> {
    world.waits_for(takes_in(&world.url(), &file_at(file)))
}

fn refusal(world: &World, file: &Path) -> String {
    let error = imports(world, file).expect_err("it was taken in");
    let source = std::error::Error::source(&error).map(|source| format!("{source:?}"));
    format!("{error} {}", source.unwrap_or_default())
}

/// How many rows of these books there are in all tables together.
fn rows_of(world: &World, id: BooksId) -> i64 {
    let tables = "SELECT c.relname::text FROM pg_class c JOIN pg_attribute a ON a.attrelid = c.oid \
                  WHERE c.relnamespace = 'public'::regnamespace AND c.relkind = 'r' AND a.attname = 'books_id'";
    let each = world
        .texts(tables)
        .into_iter()
        .map(|table| format!("SELECT count(*) AS rows FROM public.{table} WHERE books_id = '{}'", id.0));
    let each = each.collect::<Vec<_>>().join(" UNION ALL ");
    world.count(&format!("SELECT sum(rows)::bigint FROM ({each}) each"))
}

/// Books with a workshop's records, a file, a changed label and an answered key, exported after they were marked.
struct Old {
    world: World,
    owner: Caller,
    id: BooksId,
    photo: String,
    answered: String,
    folder: TempDir,
    file: PathBuf,
    taken: Taken,
}

/// What may come twice once the first was taken back: a statement about a year, and the sale of a dresser.
fn corrects(owner: &Caller) {
    let bank = owner.has_account("bank");
    let areas = json!({ "areas": [{ "from": "2026-03-10", "square_feet": "84" }] });
    let first = owner.makes("/v1/tax-years/2026/home-office", areas.clone());
    let reason = json!({ "reason": "measured anew" });
    owner.records(&format!("/v1/records/{first}/reversal"), reason);
    owner.records("/v1/tax-years/2026/home-office", areas);
    let dresser = json!({ "name": "oak dresser", "date": "2026-01-10", "origin": "bought", "purpose": "resale",
                          "basis": "80.00", "paid_from": bank });
    let dresser = owner.makes("/v1/furniture", dresser);
    let sale = |date: &str| json!({ "date": date, "gross": "400.00", "paid_into": bank });
    owner.records(&format!("/v1/furniture/{dresser}/sale"), sale("2026-01-20"));
    let back = json!({ "date": "2026-01-25", "amount": "400.00", "paid_from": bank, "piece": "came_back" });
    owner.records(&format!("/v1/furniture/{dresser}/refund"), back);
    owner.records(&format!("/v1/furniture/{dresser}/sale"), sale("2026-02-20"));
}

fn room() -> Value {
    json!({ "name": "The box room", "place": "own_home" })
}

impl Old {
    fn exported() -> Self {
        let world = World::open();
        let owner = world.owner();
        workshop(&owner);
        // Rows of other books, which have no place in the file.
        workshop(&world.stranger());
        let photo = owner.has_document("/v1/documents?name=till.jpg", "image/jpeg", &jpeg(30, 40, &[]));
        let project = owner.has_project("The hall");
        owner.changes(&format!("/v1/projects/{project}"), json!({ "name": "The long hall" }));
        corrects(&owner);
        let answered = owner.post_with_key("/v1/projects", "box-room", &room()).text;
        let id = id_of(&owner);
        marks(&world, id);
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("books.tar.gz");
        let taken = exports(&world, id, &file);
        Self { world, owner, id, photo, answered, folder, file, taken }
    }

    /// The same person at another server.
    fn owner_at(&self, new: &World) -> Caller {
        Caller { address: new.address.clone(), token: self.owner.token.clone() }
    }
}

/// What people who read the books see of them.
fn seen(owner: &Caller, photo: &str) -> Vec<Value> {
    let mut seen = vec![
        owner.reads("/v1/tax-years/2025/summary"),
        owner.reads("/v1/ledger/trial-balance?on=2026-12-31"),
        owner.reads("/v1/documents"),
        owner.reads("/v1/sources"),
        owner.reads("/v1/projects"),
    ];
    let books = owner.reads("/v1/books");
    for field in ["id", "name", "head_number", "head_hash", "closed_through"] {
        seen.push(books[field].clone());
    }
    let (status, _, bytes) = owner.fetches(photo, &[]);
    seen.push(json!([status, bytes]));
    seen
}

/// Holds whatever inserts a set of books at its deferred checks: every row is written then, and nothing is verified.
struct Held<'w> {
    world: &'w World,
    holder: tokio_postgres::Client,
}

const HOLD: &str = "CREATE FUNCTION hold() RETURNS trigger LANGUAGE plpgsql AS \
    $$ BEGIN PERFORM pg_advisory_xact_lock(77); RETURN NULL; END $$; \
    CREATE CONSTRAINT TRIGGER hold AFTER INSERT ON books DEFERRABLE INITIALLY DEFERRED \
    FOR EACH ROW EXECUTE FUNCTION hold()";

/// Sessions that wait for the advisory lock of that number.
pub const WAITING: &str = "SELECT count(*) FROM pg_locks WHERE locktype = 'advisory' AND objid = 77 AND NOT granted \
    AND database = (SELECT oid FROM pg_database WHERE datname = current_database())";

impl<'w> Held<'w> {
    fn at(world: &'w World) -> Self {
        world.try_as_superuser(HOLD).unwrap();
        let holder = session(world);
        world.waits_for(holder.batch_execute("SELECT pg_advisory_lock(77)")).unwrap();
        Self { world, holder }
    }

    fn wait_for_somebody(&self) {
        assert!(comes_true_within(Duration::from_secs(60), || self.world.count(WAITING) == 1));
    }

    fn let_go(&self) {
        self.world.waits_for(self.holder.batch_execute("SELECT pg_advisory_unlock(77)")).unwrap();
    }
}

fn session(world: &World) -> tokio_postgres::Client {
    world.waits_for(async {
        let (client, connection) =
            tokio_postgres::connect(&world.url(), tokio_postgres::NoTls).await.unwrap();
        tokio::spawn(connection);
        client
    })
}

#[test]
fn books_move_with_everything_while_the_books_beside_them_are_read_and_written() {
    let old = Old::exported();
    let before = seen(&old.owner, &old.photo);
    let new = World::open();
    let (neighbor, quiet) = (new.owner(), new.stranger());
    workshop(&quiet);
    let quiet_before = exports(&new, id_of(&quiet), &old.folder.path().join("before.tar.gz")).manifest;
    let owner = old.owner_at(&new);
    let held = Held::at(&new);
    let made = json!({ "name": "Beside them", "began_on": "2025-01-01", "base_currency": "USD" });
    let imported = std::thread::scope(|scope| {
        let importing = scope.spawn(|| imports(&new, &old.file));
        held.wait_for_somebody();
        // Every row is written now and every lock is held.
        for number in 0..20 {
            let party = neighbor.has_party(&format!("Supplier {number}"), "vendor");
            neighbor.reads(&format!("/v1/parties/{party}"));
            neighbor.changes(&format!("/v1/parties/{party}"), json!({ "name": format!("Dealer {number}") }));
            let bank = neighbor.has_account("bank");
            let put_in = json!({ "date": "2025-01-05", "into": bank, "amount": "10.00" });
            neighbor.records("/v1/accounts/contributions", put_in);
            neighbor.reads("/v1/books");
        }
        // The control: what the trigger of this test holds does wait, and so would others at a stronger lock.
        let waits = scope.spawn(|| neighbor.post("/v1/books", &made).status);
        assert!(comes_true_within(Duration::from_secs(10), || new.count(WAITING) == 2));
        assert_eq!(owner.get("/v1/books").status, 401, "nothing is verified yet");
        assert_eq!(new.count(&format!("SELECT count(*) FROM books WHERE books_id = '{}'", old.id.0)), 0);
        assert!(!importing.is_finished() && !waits.is_finished());
        held.let_go();
        assert_eq!(waits.join().unwrap(), 201);
        importing.join().unwrap().unwrap()
    });
    assert_eq!(imported.name, "Fernbank Workshop");
    assert_eq!(imported.rows, old.taken.manifest.rows());
    assert_eq!(vec![imported.head], old.taken.manifest.books.iter().map(|one| one.head).collect::<Vec<_>>());

    assert_eq!(seen(&owner, &old.photo), before);
    let again = owner.post_with_key("/v1/projects", "box-room", &room());
    assert_eq!((again.status, again.text.as_str()), (201, old.answered.as_str()));
    assert_eq!(again.header("idempotency-replayed"), Some("true"));
    assert!(owner.reads("/v1/books").get("moved_to").is_none(), "they are at home here");
    owner.records("/v1/projects", json!({ "name": "The attic", "place": "own_home" }));
    assert_eq!(old.owner.is_refused(409, "/v1/projects", room()).json()["moved_to"], ELSEWHERE);
    assert!(new.verdicts().iter().all(|verdict| verdict.holds()));
    let quiet_after = exports(&new, id_of(&quiet), &old.folder.path().join("after.tar.gz")).manifest;
    let but_for_uses = |tables: &[TableInBackup]| {
        tables.iter().filter(|table| table.name != "tokens").cloned().collect::<Vec<_>>()
    };
    assert_eq!(but_for_uses(&quiet_after.tables), but_for_uses(&quiet_before.tables));
    // The triggers are back: what no recording would write is refused in the books that came, and beside them.
    let refused = new.try_as_superuser(&format!(
        "INSERT INTO audit_lines (books_id, id, request_id, action, about_books) \
         VALUES ('{0}', gen_random_uuid(), gen_random_uuid(), 'x', '{0}'); \
         UPDATE projects SET name = 'past the history' WHERE books_id = '{0}'",
        old.id.0
    ));
    assert!(refused.is_err());
}

/// The control of the test above: a lock that stops writers of other books shows as just that.
#[test]
fn a_lock_on_a_whole_table_would_keep_the_neighbors_waiting() {
    let world = World::open();
    let neighbor = world.owner();
    let holder = session(&world);
    let lock = "BEGIN; LOCK TABLE audit_lines IN SHARE ROW EXCLUSIVE MODE";
    world.waits_for(holder.batch_execute(lock)).unwrap();
    std::thread::scope(|scope| {
        let write = scope.spawn(|| neighbor.has_party("Brickyard Fixings", "vendor"));
        std::thread::sleep(Duration::from_secs(1));
        assert!(!write.is_finished(), "it waits for the lock");
        world.waits_for(holder.batch_execute("COMMIT")).unwrap();
        write.join().unwrap();
    });
}

#[test]
fn an_export_holds_the_rows_of_its_books_in_every_table_that_has_any() {
    let old = Old::exported();
    let manifest = &old.taken.manifest;
    let listed: Vec<&str> = manifest.tables.iter().map(|table| table.name.as_str()).collect();
    assert!(listed.contains(&"token_directory") && !listed.contains(&"backups_made"), "{listed:?}");
    assert_eq!(i64::try_from(manifest.rows()).unwrap(), rows_of(&old.world, old.id));
    let whole = old.world.backs_up_to(old.folder.path(), &[]).manifest;
    assert!(whole.rows() > manifest.rows(), "the control: there are other books");
    assert_eq!(whole.tables.len(), listed.len() + 1, "and one table that belongs to none");
    assert_eq!(manifest.header.only_books.as_ref().unwrap().moved_to.as_deref(), Some(ELSEWHERE));
    use std::os::unix::fs::PermissionsExt;
    assert_eq!(std::fs::metadata(&old.file).unwrap().permissions().mode() & 0o777, 0o600);
    let nobody = BooksId(uuid::Uuid::now_v7());
    let path = old.folder.path().join("nobody.tar.gz");
    let url = old.world.url();
    let refused = backup::export(&url, &path, nobody, &[], &|_| ());
    let refused = old.world.waits_for(refused).unwrap_err();
    assert!(matches!(refused, BackupError::Store(StoreError::NotFound { .. })), "{refused}");
    assert!(!path.exists());
}

/// A version before exports reads format 1 and no other, so it refuses an export instead of restoring one set of books
/// in place of all.
#[test]
fn an_export_is_no_backup_and_a_backup_is_no_export() {
    let old = Old::exported();
    let whole = old.world.backs_up_to(old.folder.path(), &[]);
    assert_eq!((whole.manifest.header.format, old.taken.manifest.header.format), (1, 2));
    let refused = backup::checked(&file_at(&old.file)).unwrap_err().to_string();
    assert!(refused.contains("books import") && refused.contains(&old.id.to_string()), "{refused}");
    let refused = checked_export(&file_at(&whole.path)).unwrap_err().to_string();
    assert!(refused.contains("ledgerboard restore"), "{refused}");
    assert_eq!(backup::checked(&file_at(&whole.path)).unwrap(), whole.manifest, "a control");
    assert_eq!(checked_export(&file_at(&old.file)).unwrap().manifest, old.taken.manifest, "a control");
    // A file that says both of itself is neither.
    let bad = old.folder.path().join("bad.tar.gz");
    for (from, is, says) in [(&old.file, 2, 1), (&whole.path, 1, 2)] {
        let (is, says) = (format!("\"format\": {is}"), format!("\"format\": {says}"));
        repacked(from, &bad, |_, content| {
            if content.first() == Some(&b'{') {
                *content = String::from_utf8_lossy(content).replace(&is, &says).into_bytes();
            }
            true
        });
        let refused = checked_export(&file_at(&bad)).unwrap_err().to_string();
        assert!(refused.contains("does not fit the books"), "{refused}");
    }
}

#[test]
fn books_that_are_there_and_files_of_another_version_are_refused() {
    let old = Old::exported();
    let refused = refusal(&old.world, &old.file);
    assert!(refused.contains("are on this server already"), "{refused}");
    assert_eq!(old.owner.reads("/v1/books")["moved_to"], ELSEWHERE, "they are as they were");
    let new = World::open();
    let other = old.folder.path().join("other.tar.gz");
    let last = old.taken.manifest.migrations.last().unwrap().clone();
    let changes = |from: &str, to: &str| {
        repacked(&old.file, &other, |name, content| {
            if name == "manifest.json" {
                let text = String::from_utf8(std::mem::take(content)).unwrap();
                assert!(text.contains(from));
                *content = text.replace(from, to).into_bytes();
            }
            true
        });
        refusal(&new, &other)
    };
    let refused = changes(&format!("\"{last}\""), "\"20991231010100\"");
    assert!(refused.contains("newer version") && refused.contains("20991231010100"), "{refused}");
    let refused = changes(&format!(",\n    \"{last}\""), "");
    for part in ["older version", &last, "on the old server", "export the books there again"] {
        assert!(refused.contains(part), "{refused}");
    }
    assert_eq!(rows_of(&new, old.id), 0);
    imports(&new, &old.file).expect("the control: as it was written it is taken in");
    assert_eq!(
        rows_of(&new, old.id),
        rows_of(&old.world, old.id) + 1,
        "with one more line of the change log"
    );
}

/// Tokens made before 2026-12-01 are known by their hash alone, over all books of a server.
#[test]
fn a_token_that_opens_other_books_there_already_is_refused() {
    let old = Old::exported();
    let new = World::open();
    let hash = ShownToken::read(&old.owner.token).unwrap().hash;
    let hash: String = hash.bytes().iter().map(|byte| format!("{byte:02x}")).collect();
    let lists = |books: BooksId| {
        format!("INSERT INTO token_directory (hash, books_id) VALUES ('\\x{hash}', '{}')", books.0)
    };
    old.world.try_as_superuser(&lists(old.id)).unwrap();
    new.try_as_superuser(&lists(id_of(&new.owner()))).unwrap();
    let file = old.folder.path().join("with-directory.tar.gz");
    exports(&old.world, old.id, &file);
    let refused = refusal(&new, &file);
    assert!(refused.contains("opens other books on this server already"), "{refused}");
    assert_eq!(rows_of(&new, old.id), 0);
    new.try_as_superuser("DELETE FROM token_directory").unwrap();
    imports(&new, &file).expect("the control: without it they are taken in");
    assert_eq!(new.count("SELECT count(*) FROM token_directory"), 1);
}

#[test]
fn an_owner_who_is_no_superuser_takes_in_one_set_of_books_after_the_other() {
    let old = Old::exported();
    let url = an_empty_database("books_moved_here", Some("mover"));
    old.world.waits_for(migrate(&url)).unwrap();
    let file = file_at(&old.file);
    let imported = old.world.waits_for(takes_in(&url, &file)).unwrap();
    let again = old.world.waits_for(takes_in(&url, &file)).unwrap_err().to_string();
    assert!(again.contains("are on this server already"), "{again}");
    // Into a server that has books now, and from which none of the first get lost.
    let second = old.world.stranger();
    workshop(&second);
    let file = old.folder.path().join("second.tar.gz");
    exports(&old.world, id_of(&second), &file);
    old.world.waits_for(takes_in(&url, &file_at(&file))).unwrap();
    let back = old.folder.path().join("back.tar.gz");
    let taken = old.world.waits_for(backup::export(&url, &back, old.id, &[], &|_| ())).unwrap();
    assert_eq!(taken.manifest.books[0].head, imported.head);
    let (was, is) = (lines_of(&old.file), lines_of(&back));
    assert_eq!(was.keys().collect::<Vec<_>>(), is.keys().collect::<Vec<_>>());
    for (table, was) in &was {
        match table.as_str() {
            "audit_lines" => assert_eq!(is[table].len(), was.len() + 1),
            // The mark is taken back.
            "books" => assert_ne!(&is[table], was),
            _ => assert_eq!(&is[table], was, "{table}"),
        }
    }
}

/// The rows of each table in a file, in an order that does not depend on where they were stored.
fn lines_of(file: &Path) -> BTreeMap<String, Vec<String>> {
    let (mut texts, folder) = (BTreeMap::<String, String>::new(), tempfile::tempdir().unwrap());
    repacked(file, &folder.path().join("read"), |name, content| {
        if let Some((table, _)) = name.strip_prefix("tables/").and_then(|rest| rest.split_once('/')) {
            texts.entry(table.to_owned()).or_default().push_str(std::str::from_utf8(content).unwrap());
        }
        true
    });
    let sorted = |text: String| {
        let mut lines: Vec<_> = text.lines().map(str::to_owned).collect();
        lines.sort_unstable();
        lines
    };
    texts.into_iter().map(|(table, text)| (table, sorted(text))).collect()
}

#[test]
fn an_encrypted_export_opens_with_its_own_key_and_with_no_other() {
    let old = Old::exported();
    let [right, wrong] = [age::x25519::Identity::generate(), age::x25519::Identity::generate()];
    let key_file = |name: &str, key: &age::x25519::Identity| {
        let path = old.folder.path().join(name);
        std::fs::write(&path, format!("{}\n", key.to_string().expose_secret())).unwrap();
        Some(path)
    };
    let recipient: Recipient = right.to_public().to_string().parse().unwrap();
    let path = old.folder.path().join("sealed.tar.gz.age");
    let recipients = [recipient];
    old.world.waits_for(backup::export(&old.world.url(), &path, old.id, &recipients, &|_| ())).unwrap();
    assert!(std::fs::read(&path).unwrap().starts_with(b"age-encryption.org/v1\n"));
    let new = World::open();
    let mut file = file_at(&path);
    let refused = checked_export(&file).unwrap_err().to_string();
    assert!(refused.contains("encrypted") && refused.contains("--identity"), "{refused}");
    file.identity = key_file("wrong.txt", &wrong);
    assert!(checked_export(&file).unwrap_err().to_string().contains("does not decrypt"));
    file.identity = key_file("right.txt", &right);
    new.waits_for(takes_in(&new.url(), &file)).unwrap();
    old.owner_at(&new).reads("/v1/tax-years/2025/summary");
}

/// A trigger that does not stand back would refuse books that have a history; the service cannot make one stand back.
#[test]
fn the_triggers_before_an_insert_stand_back_for_the_owner_of_the_tables_only() {
    let world = World::open();
    let steadfast = "SELECT tgrelid::regclass::text || ' ' || tgname FROM pg_trigger t \
                     JOIN pg_class c ON c.oid = t.tgrelid WHERE c.relnamespace = 'public'::regnamespace \
                     AND NOT tgisinternal AND tgtype & 7 = 7 \
                     AND pg_get_triggerdef(t.oid) NOT LIKE '%WHEN ((NOT books_are_loaded()))%' ORDER BY 1";
    assert_eq!(world.texts(steadfast), Vec::<String>::new(), "add WHEN (NOT books_are_loaded()) to them");
    let books = id_of(&world.owner()).to_string();
    let says_so = "SELECT s.said || ': ' || books_are_loaded() FROM \
                   (SELECT set_config('app.loads', 'whole books', true) AS said OFFSET 0) s";
    assert_eq!(world.as_the_service(&books, says_so).unwrap(), ["whole books: false"]);
    assert_eq!(world.texts(says_so), ["whole books: true"], "a control: the owner of the tables");
    let silent = "SELECT books_are_loaded()::text";
    assert_eq!(world.texts(silent), ["false"], "a control: the owner who does not say so");
    world
        .try_as_superuser(
            "CREATE TRIGGER steadfast BEFORE INSERT ON sources FOR EACH ROW EXECUTE FUNCTION refuse_change()",
        )
        .unwrap();
    assert_eq!(world.texts(steadfast), ["sources steadfast"], "a control");
}
