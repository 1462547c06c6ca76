//! The store's own promises: the schema file, migrations that can be taken back, a role that may do little.
#![cfg(test)]

use std::collections::BTreeSet;

use ledgerboard::rules::money::{Amount, Hours, Quantity, Share};
use ledgerboard::store::connect::{CheckDurability, Database, DatabaseSettings, migrate, unmigrate};
use serde_json::json;
use sha2::{Digest, Sha256};

use crate::world::World;

/// The columns that `src/store/schema.rs` names, as table.column type nullable.
fn in_the_schema_file() -> BTreeSet<String> {
    let text = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/src/store/schema.rs")).unwrap();
    let mut found = BTreeSet::new();
    let (mut table, mut sql_name) = (String::new(), None);
    for line in text.lines().map(str::trim) {
        if let Some((name, _)) = line.split_once(" (").filter(|_| line.ends_with('{')) {
            table = name.to_owned();
        } else if let Some(rest) = line.strip_prefix("#[sql_name = \"") {
            sql_name = Some(rest.trim_end_matches("\"]").to_owned());
        } else if let Some((column, kind)) = line.trim_end_matches(',').split_once(" -> ") {
            let column = sql_name.take().unwrap_or_else(|| column.to_owned());
            let bare = kind.trim_start_matches("Nullable<");
            let nullable = bare != kind;
            let bare = if nullable { bare.trim_end_matches('>') } else { bare };
            found.insert(format!("{table}.{column} {bare} {nullable}"));
        }
    }
    found
}

#[test]
fn the_schema_file_says_what_the_migrated_database_has() {
    let world = World::open();
    let there: BTreeSet<String> = world
        .texts(
            "SELECT table_name || '.' || column_name || ' ' || CASE udt_name \
                 WHEN 'uuid' THEN 'Uuid' WHEN 'text' THEN 'Text' WHEN 'date' THEN 'Date' \
                 WHEN 'timestamptz' THEN 'Timestamptz' WHEN 'int4' THEN 'Int4' WHEN 'int8' THEN 'Int8' \
                 WHEN 'bytea' THEN 'Bytea' WHEN 'numeric' THEN 'Numeric' WHEN 'jsonb' THEN 'Jsonb' \
                 WHEN '_text' THEN 'Array<Text>' ELSE udt_name END || ' ' || (is_nullable = 'YES') \
             FROM information_schema.columns JOIN information_schema.tables USING (table_schema, table_name) \
             WHERE table_schema = 'public' AND table_type = 'BASE TABLE' AND table_name NOT LIKE '\\_\\_%'",
        )
        .into_iter()
        .collect();
    let written = in_the_schema_file();
    let missing: Vec<_> = there.difference(&written).collect();
    let stale: Vec<_> = written.difference(&there).collect();
    assert!(missing.is_empty() && stale.is_empty(), "missing {missing:#?}\nstale {stale:#?}");
}

/// Columns, constraints, triggers, policies and rights of every table, in one text.
fn shape(world: &World) -> Vec<String> {
    let mut shape = world.texts(
        "SELECT table_name || '.' || column_name || ' ' || udt_name || ' ' || is_nullable \
         FROM information_schema.columns WHERE table_schema = 'public' ORDER BY 1",
    );
    shape.extend(world.texts(
        "SELECT conrelid::regclass::text || ' ' || pg_get_constraintdef(oid) FROM pg_constraint \
         WHERE connamespace = 'public'::regnamespace ORDER BY 1",
    ));
    shape.extend(world.texts(
        "SELECT tgrelid::regclass::text || ' ' || tgname FROM pg_trigger WHERE NOT tgisinternal ORDER BY 1",
    ));
    shape.extend(
        world.texts("SELECT tablename || ' ' || policyname || ' ' || coalesce(qual, with_check) FROM pg_policies ORDER BY 1"),
    );
    shape.extend(world.texts(
        "SELECT relname || ' ' || coalesce(relacl::text, '') FROM pg_class \
         WHERE relnamespace = 'public'::regnamespace AND relkind = 'r' AND relname NOT LIKE '\\_\\_%' ORDER BY 1",
    ));
    shape
}

#[tokio::test(flavor = "multi_thread")]
async fn every_migration_can_be_taken_back_and_made_again() {
    let world = tokio::task::spawn_blocking(World::open).await.unwrap();
    let url = world.url();
    let (world, before) = tokio::task::spawn_blocking(|| {
        let before = shape(&world);
        // Nothing may hold on to the tables meanwhile.
        world.stop_serving();
        (world, before)
    })
    .await
    .unwrap();
    unmigrate(&url).await.unwrap();
    let (world, between) = tokio::task::spawn_blocking(|| {
        let between = shape(&world);
        (world, between)
    })
    .await
    .unwrap();
    assert!(between.iter().all(|line| line.starts_with("__diesel")), "{between:#?}");
    migrate(&url).await.unwrap();
    tokio::task::spawn_blocking(move || assert_eq!(shape(&world), before)).await.unwrap();
}

#[test]
fn money_columns_refuse_what_a_decimal_can_not_hold() {
    let world = World::open();
    for (value, why) in [("'NaN'", "NaN sorts above every number"), ("1e15", "more than fifteen digits")] {
        let refused = world.try_as_superuser(&format!("SELECT ({value})::numeric::money_amount"));
        assert!(refused.is_err(), "{value}: {why}");
    }
    assert!(world.try_as_superuser("SELECT 999999999999999.9999::money_amount").is_ok());
}

/// What a text of a request can hold, its column can: a larger one is refused before it is written.
#[test]
fn the_largest_text_of_each_kind_fits_its_column_and_one_digit_more_fits_neither() {
    let world = World::open();
    let takes =
        |column: &str, text: &str| world.try_as_superuser(&format!("SELECT '{text}'::{column}")).is_ok();
    let reads = |column: &str, text: &str| match column {
        "money_amount" => Amount::parse(text).is_some(),
        "quantity_amount" => Quantity::parse(text).is_some(),
        "hours_amount" => Hours::parse(text).is_some(),
        _ => Share::parse(text).is_some(),
    };
    for (column, largest) in [
        ("money_amount", "999999999999999.9999"),
        ("quantity_amount", "999999999999999.999999"),
        ("hours_amount", "9999999.9999"),
        ("share_percent", "100.0000"),
    ] {
        assert!(reads(column, largest) && takes(column, largest), "{column}: {largest}");
        let larger = format!("1{largest}");
        assert!(!reads(column, &larger) && !takes(column, &larger), "{column}: {larger}");
    }
}

#[test]
fn more_hours_than_anybody_works_are_refused_at_their_field() {
    let world = World::open();
    let owner = world.owner();
    let hours =
        |hours: &str| json!({ "date": "2025-03-01", "person": "Wren", "standing": "own", "hours": hours });
    let refused = owner.is_refused(422, "/v1/labour", hours("6795250689.10"));
    assert!(refused.error_at("/hours").contains("fewer than ten million"), "{}", refused.text);
    owner.records("/v1/labour", hours("9999999.9999"));
}

#[test]
fn the_journal_refuses_what_the_rules_would_never_write() {
    let world = World::open();
    let owner = world.owner();
    let bank = owner.has_account("bank");
    owner.records(
        "/v1/accounts/contributions",
        serde_json::json!({ "date": "2025-01-05", "into": bank, "amount": "10.00" }),
    );
    for (statement, why) in [
        ("UPDATE postings SET amount = 1", "append-only"),
        ("DELETE FROM entries", "append-only"),
        ("TRUNCATE attributions", "append-only"),
        (
            "INSERT INTO postings SELECT books_id, entry_number, 9, account, 1, tax_class, tax_year FROM postings LIMIT 1",
            "the entry would not balance",
        ),
        (
            "INSERT INTO records SELECT books_id, gen_random_uuid(), word, kind, date, party_id, text, streams, facts, notes, \
             created_at, id FROM records LIMIT 1",
            "a record that stands can not be replaced",
        ),
        (
            "INSERT INTO entries SELECT books_id, number + 2, record_id, 7, date, kind, text, reverses, hash FROM entries LIMIT 1",
            "a gap in the numbers",
        ),
    ] {
        assert!(world.try_as_superuser(statement).is_err(), "{statement}: {why}");
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_service_that_logs_in_as_the_owner_is_refused() {
    let world = tokio::task::spawn_blocking(World::open).await.unwrap();
    let settings = |service_url: String| DatabaseSettings {
        owner_url: world.url(),
        service_url,
        connections: 2,
        durability: CheckDurability::Waive,
    };
    let refused = Database::join(&settings(world.url())).await.err().unwrap().to_string();
    assert!(refused.contains("ledgerboard_service"), "{refused}");
    // A control: the service's own role is let in, also by way of the owner's URL.
    let taken_on = DatabaseSettings { connections: 2, ..DatabaseSettings::of_one_url(&world.url()) };
    let taken_on = DatabaseSettings { durability: CheckDurability::Waive, ..taken_on };
    assert!(Database::join(&taken_on).await.is_ok());
    // And a server that may lose what it acknowledged is refused where that is not waived.
    let lax = DatabaseSettings { durability: CheckDurability::Insist, ..taken_on };
    let refused = Database::join(&lax).await.err().unwrap().to_string();
    assert!(refused.contains("fsync"), "{refused}");
    tokio::task::spawn_blocking(move || drop(world)).await.unwrap();
}

/// The tables could be spread over several servers by `books_id`: what stands in the way of that fails here.
#[test]
fn every_key_and_foreign_key_is_led_by_the_books_but_the_directory_of_old_tokens_and_the_times_of_backups() {
    let world = World::open();
    let keys = "SELECT conrelid::regclass::text || ' ' || pg_get_constraintdef(c.oid) FROM pg_constraint c \
                WHERE connamespace = 'public'::regnamespace AND contype IN ('p', 'u', 'f') \
                AND conrelid::regclass::text NOT LIKE '\\_\\_%' AND (SELECT attname FROM pg_attribute \
                    WHERE attrelid = conrelid AND attnum = conkey[1]) <> 'books_id' ORDER BY 1";
    assert_eq!(
        world.texts(keys),
        ["backups_made PRIMARY KEY (taken_at)", "token_directory PRIMARY KEY (hash)"]
    );
    let indexes = "SELECT i.indexrelid::regclass::text FROM pg_index i JOIN pg_class c ON c.oid = i.indrelid \
                   WHERE i.indisunique AND c.relnamespace = 'public'::regnamespace AND c.relname NOT LIKE '\\_\\_%' \
                   AND (SELECT attname FROM pg_attribute WHERE attrelid = i.indrelid AND attnum = i.indkey[0]) \
                       <> 'books_id' ORDER BY 1";
    assert_eq!(world.texts(indexes), ["backups_made_pkey", "token_directory_pkey"]);
    // A control: a key that another column leads is found.
    world.try_as_superuser("ALTER TABLE parties ADD UNIQUE (id)").unwrap();
    assert!(world.texts(keys).contains(&"parties UNIQUE (id)".to_owned()));
}

#[test]
fn no_function_depends_on_the_name_a_table_has_on_its_server_or_has_to_be_planned_over_several() {
    let world = World::open();
    let by_name = "SELECT proname::text FROM pg_proc WHERE pronamespace = 'public'::regnamespace \
                   AND prosrc ~* '(TG_TABLE_NAME\\s*(=|<>|!=|IN\\M|LIKE\\M)|(CASE|WHEN|=)\\s+TG_TABLE_NAME)' ORDER BY 1";
    let in_sql = "SELECT proname::text FROM pg_proc p JOIN pg_language l ON l.oid = p.prolang \
                  WHERE pronamespace = 'public'::regnamespace AND lanname = 'sql' AND pronargs > 0 ORDER BY 1";
    assert_eq!(world.texts(by_name), Vec::<String>::new());
    assert_eq!(world.texts(in_sql), Vec::<String>::new());
    // Controls: both kinds are found.
    world
        .try_as_superuser(
            "CREATE FUNCTION by_name() RETURNS trigger LANGUAGE plpgsql AS \
             $$ BEGIN IF TG_TABLE_NAME = 'entries' THEN RETURN NULL; END IF; RETURN NEW; END $$; \
             CREATE FUNCTION in_sql(uuid) RETURNS bigint LANGUAGE sql AS \
             $$ SELECT count(*) FROM parties WHERE books_id = $1 $$",
        )
        .unwrap();
    assert_eq!((world.texts(by_name), world.texts(in_sql)), (vec!["by_name".into()], vec!["in_sql".into()]));
}

/// What was run on somebody's books cannot be run anew, so a migration never changes once it is in a release: a change is
/// a migration of its own, whose lines `sha256sum migrations/*/*.sql` gives.
#[test]
fn a_migration_that_books_may_have_run_is_what_it_was() {
    let kept = include_str!("store/migrations.sha256");
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
    let sum = |path: &std::path::Path| {
        let digest = Sha256::digest(std::fs::read(path).unwrap());
        digest.iter().map(|byte| format!("{byte:02x}")).collect::<String>()
    };
    let mut listed = BTreeSet::new();
    for line in kept.lines() {
        let (expected, path) = line.split_once("  ").unwrap();
        assert_eq!(sum(&root.join(path)), expected, "{path} was changed: write a new migration instead");
        listed.insert(path.to_owned());
    }
    let folders = std::fs::read_dir(root.join("migrations")).unwrap().map(|folder| folder.unwrap().path());
    let files =
        folders.flat_map(|folder| std::fs::read_dir(folder).unwrap().map(|file| file.unwrap().path()));
    let there: BTreeSet<_> =
        files.map(|file| file.strip_prefix(root).unwrap().display().to_string()).collect();
    assert_eq!(there, listed, "add the lines of a new migration to tests/store/migrations.sha256");
    // A control: one byte more is noticed.
    let folder = tempfile::tempdir().unwrap();
    let changed = folder.path().join("up.sql");
    let first = root.join(listed.first().unwrap());
    std::fs::write(&changed, [std::fs::read(&first).unwrap(), vec![b' ']].concat()).unwrap();
    assert_ne!(sum(&changed), sum(&first));
}
