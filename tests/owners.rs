//! Owners who are no superusers: what they lack is said with the statement that gives it, and that statement is enough.
#![cfg(test)]

use ledgerboard::rules::books::{TaxProfile, TimeZone};
use ledgerboard::rules::costing::StartMonth;
use ledgerboard::rules::money::Currency;
use ledgerboard::rules::recording::{AccountingMethod, MaterialsFlow, MaterialsTiming};
use ledgerboard::store::books::NewBooks;
use ledgerboard::store::connect::{CheckDurability, Database, DatabaseSettings};
use ledgerboard::store::dial::Session;

use crate::world::server::{PASSWORD, Server, postgresql_15_to_18, usual_programs};

fn settings(url: &str) -> DatabaseSettings {
    DatabaseSettings {
        durability: CheckDurability::Waive,
        connections: 2,
        ..DatabaseSettings::of_one_url(url)
    }
}

/// Opens the database, and as often as it is refused runs as superuser what the message says; gives those statements.
async fn opens_by_its_own_advice(server: &Server, database: &str, url: &str) -> (Database, Vec<String>) {
    let mut run = Vec::new();
    loop {
        let refused = match Database::open(&settings(url)).await {
            Ok(opened) => return (opened, run),
            Err(refused) => refused,
        };
        let cause = std::error::Error::source(&refused).map(ToString::to_string).unwrap_or_default();
        let told = format!("{refused}: {cause}");
        assert!(!told.contains(PASSWORD), "{told}");
        let (_, statements) = told.split_once("run: ").unwrap_or_else(|| panic!("no statement in: {told}"));
        let (statements, _) = statements.rsplit_once(';').unwrap();
        assert!(run.len() < 5, "it never ends: {told}");
        server.runs(database, &[statements]).await;
        run.push(statements.to_owned());
    }
}

fn some_books(name: &str) -> NewBooks {
    NewBooks {
        name: name.to_owned(),
        base: Currency::find("USD").unwrap(),
        method: AccountingMethod::Cash,
        timing: MaterialsTiming::WhenUsed,
        flow: MaterialsFlow::Fifo,
        tax_profile: TaxProfile::UnitedStates,
        time_zone: TimeZone::UTC,
        fiscal_year_begins: StartMonth::January,
        began_on: chrono::NaiveDate::from_ymd_opt(2025, 1, 1).unwrap(),
        mark: None,
    }
}

async fn names_of_books(database: &Database) -> Vec<String> {
    database.books_on_this_server().await.unwrap().into_iter().map(|one| one.name).collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn each_right_that_an_owner_lacks_is_named_and_the_named_statement_is_enough() {
    for (major, programs) in postgresql_15_to_18() {
        let server = tokio::task::block_in_place(|| Server::start(&programs, &[], &[]));
        let login = |name: &str, more: &str| format!("CREATE ROLE {name} LOGIN {more} PASSWORD '{PASSWORD}'");
        let prepare = [
            login("plain", ""),
            login("\"Second\"", "CREATEROLE"),
            "CREATE DATABASE first ENCODING 'UTF8' TEMPLATE template0".to_owned(),
            "CREATE DATABASE second OWNER \"Second\" ENCODING 'UTF8' TEMPLATE template0".to_owned(),
            "REVOKE CONNECT ON DATABASE first FROM PUBLIC".to_owned(),
        ];
        server.runs("postgres", &prepare.each_ref().map(String::as_str)).await;
        // The first owner may do nothing at all.
        let (first, run) =
            opens_by_its_own_advice(&server, "postgres", &server.url("plain", "first", "")).await;
        let [connect, owner, roles] = run.as_slice() else { panic!("{major}: {run:?}") };
        assert_eq!(connect, "GRANT CONNECT ON DATABASE first TO plain", "{major}");
        assert_eq!(owner, "ALTER DATABASE first OWNER TO plain", "{major}");
        assert!(roles.contains("CREATE ROLE ledgerboard_service LOGIN"), "{major}: {roles}");
        assert!(roles.contains("TO plain WITH ADMIN OPTION"), "{major}: {roles}");
        // The second may make roles, but not hand on those of the first: since PostgreSQL 16 that is another right.
        let (second, run) =
            opens_by_its_own_advice(&server, "postgres", &server.url("Second", "second", "")).await;
        let granted =
            "GRANT ledgerboard_service, ledgerboard_door, ledgerboard_backup TO \"Second\" WITH ADMIN OPTION";
        let expected: &[&str] = if major < 16 { &[] } else { &[granted] };
        assert_eq!(run, expected, "{major}");
        // Each has books of its own, and keeps them at the next start.
        first.open_books(&some_books("First")).await.unwrap();
        second.open_books(&some_books("Second")).await.unwrap();
        for (user, database, books) in [("plain", "first", "First"), ("Second", "second", "Second")] {
            let again = Database::open(&settings(&server.url(user, database, ""))).await;
            let again = again.unwrap_or_else(|error| panic!("{major} {user}: {error:?}"));
            assert_eq!(names_of_books(&again).await, [books], "{major}");
        }
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_server_or_database_that_does_not_fit_is_refused_in_words() {
    let server = tokio::task::block_in_place(|| Server::start(&usual_programs(), &[], &[]));
    server
        .runs(
            "postgres",
            &[
                "CREATE DATABASE latin ENCODING 'LATIN1' TEMPLATE template0",
                "CREATE DATABASE books ENCODING 'UTF8' TEMPLATE template0",
                &format!("CREATE ROLE other LOGIN CREATEROLE PASSWORD '{PASSWORD}'"),
            ],
        )
        .await;
    let refused =
        |url: String| async move { Database::open(&settings(&url)).await.err().unwrap().to_string() };
    let told = refused(server.url("postgres", "latin", "")).await;
    assert!(told.contains("LATIN1") && told.contains("ENCODING 'UTF8'"), "{told}");
    // The control: the same server and user, another encoding.
    assert!(Database::open(&settings(&server.url("postgres", "books", ""))).await.is_ok());
    let told = refused(server.url("other", "books", "")).await;
    assert!(
        told.contains("belong to postgres") && told.contains("REASSIGN OWNED BY postgres TO other;"),
        "{told}"
    );
}

#[tokio::test(flavor = "multi_thread")]
async fn time_outs_hold_for_one_log_in_and_for_two() {
    let server = tokio::task::block_in_place(|| Server::start(&usual_programs(), &[], &[]));
    server.runs("postgres", &["CREATE DATABASE books ENCODING 'UTF8' TEMPLATE template0"]).await;
    let timeouts = |address: String| async move {
        let session = Session::open(&address).await.unwrap();
        let asked = "SELECT current_user || ' ' || current_setting('statement_timeout') || ' ' || \
                     current_setting('lock_timeout') || ' ' || current_setting('idle_in_transaction_session_timeout')";
        let told: String = session.client.query_one(asked, &[]).await.unwrap().get(0);
        session.close().await;
        told
    };
    let owner = server.url("postgres", "books", "");
    // The control: a server has none of its own.
    assert_eq!(timeouts(owner.clone()).await, "postgres 0 0 0");
    Database::open(&settings(&owner)).await.unwrap();
    let limited = "ledgerboard_service 30s 10s 30s";
    assert_eq!(timeouts(settings(&owner).service_url).await, limited);
    // With a log-in of its own they come with the role, so that a pooler's sessions have them too.
    let password = format!("ALTER ROLE ledgerboard_service PASSWORD '{PASSWORD}'");
    server.runs("books", &[password.as_str()]).await;
    let own = server.url("ledgerboard_service", "books", "");
    assert_eq!(timeouts(own.clone()).await, limited);
    let two = DatabaseSettings { owner_url: owner, service_url: own.clone(), ..settings("") };
    // What a superuser chose stays at the next start.
    server.runs("books", &["ALTER ROLE ledgerboard_service SET lock_timeout = '3s'"]).await;
    Database::open(&two).await.unwrap();
    assert_eq!(timeouts(own).await, "ledgerboard_service 30s 3s 30s");
    // A log-in of another name that is a member of the role works too; its sessions set their own time-outs.
    let member =
        format!("CREATE ROLE fernbank_service LOGIN PASSWORD '{PASSWORD}' IN ROLE ledgerboard_service");
    server.runs("books", &[member.as_str()]).await;
    let member = DatabaseSettings { service_url: server.url("fernbank_service", "books", ""), ..two };
    let opened = Database::join(&member).await.unwrap();
    opened.open_books(&some_books("Fernbank")).await.unwrap();
    assert_eq!(names_of_books(&opened).await, ["Fernbank"]);
}
