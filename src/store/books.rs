//! Books: the tenant-bound handle. Every query runs in a transaction that is fenced to one books.

pub(super) mod moving;

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel::sql_types::{Nullable, Text, Uuid as SqlUuid};
use diesel_async::{AsyncPgConnection, RunQueryDsl, SimpleAsyncConnection};
use uuid::Uuid;

use super::connect::Database;
use super::error::{Fault, StoreError};
use super::idempotency::{IdempotencyKey, claim};
use super::read_as;
use super::schema::{accounts, books};
use crate::rules::books::{TaxProfile, TimeZone};
use crate::rules::chain;
use crate::rules::costing::StartMonth;
use crate::rules::ids::BooksId;
use crate::rules::journal::Account;
use crate::rules::money::Currency;
use crate::rules::recording::{AccountingMethod, BooksFacts, MaterialsFlow, MaterialsTiming};

/// One business's books, as one holder of a token may see and write them.
#[derive(Clone)]
pub struct Books {
    pub(super) database: Database,
    pub(super) id: BooksId,
}

/// What seals the cursors of these books. It is made with them and never shown, so that a cursor outlives a restart and
/// means nothing to other books.
#[derive(Clone)]
pub struct CursorKey([u8; 32]);

impl CursorKey {
    pub const fn of(bytes: [u8; 32]) -> Self {
        Self(bytes)
    }

    pub const fn bytes(&self) -> &[u8; 32] {
        &self.0
    }
}

/// What the books are.
#[derive(Clone, Debug)]
pub struct BooksCard {
    pub id: BooksId,
    pub name: String,
    pub base: Currency,
    pub method: AccountingMethod,
    pub timing: MaterialsTiming,
    pub flow: MaterialsFlow,
    pub tax_profile: String,
    pub time_zone: String,
    pub fiscal_year_begins: StartMonth,
    pub began_on: NaiveDate,
    pub mark: Option<String>,
    pub closed_through: Option<NaiveDate>,
    /// The address where they are kept now; none while they are kept here.
    pub moved_to: Option<String>,
    /// The last entry of the chain.
    pub head: chain::Head,
}

impl BooksCard {
    /// What the rules need of it.
    pub fn facts(&self) -> BooksFacts {
        let first_open = self
            .closed_through
            .map_or(Some(NaiveDate::MIN), |closed| closed.succ_opt())
            .unwrap_or(NaiveDate::MAX);
        BooksFacts {
            base: self.base,
            method: self.method,
            timing: self.timing,
            flow: self.flow,
            began_on: self.began_on,
            first_open,
        }
    }
}

/// A running transaction, fenced to its books by row security and by every query's own predicate.
pub struct Tx<'c> {
    pub(super) connection: &'c mut AsyncPgConnection,
    pub(super) id: BooksId,
    card: BooksCard,
}

impl Tx<'_> {
    pub const fn card(&self) -> &BooksCard {
        &self.card
    }

    pub const fn books(&self) -> Uuid {
        self.id.0
    }

    /// # Errors
    /// [`StoreError::Moved`] where the books are kept on another server now.
    pub(super) fn takes_changes(&self) -> Result<(), StoreError> {
        match &self.card.moved_to {
            Some(to) => Err(StoreError::Moved { to: to.clone() }),
            None => Ok(()),
        }
    }
}

/// Whether the books' row is locked: writers take turns, since numbers have no gaps and facts must hold still.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Turn {
    Reader,
    Writer,
}

/// The books' own row, locked where a writer asks; the transaction is fenced to the books already.
pub(super) async fn begin_fenced<'c>(
    connection: &'c mut AsyncPgConnection,
    id: BooksId,
    turn: Turn,
) -> Result<Tx<'c>, StoreError> {
    let card = card(connection, id, turn).await?;
    Ok(Tx { connection, id, card })
}

/// A writer's transaction that holds its key, if it has one, before it waits for its turn.
pub(super) async fn begin_claimed<'c>(
    connection: &'c mut AsyncPgConnection,
    id: BooksId,
    key: Option<&IdempotencyKey>,
) -> Result<Tx<'c>, StoreError> {
    if let Some(key) = key {
        claim(connection, id, key).await?;
    }
    begin_fenced(connection, id, Turn::Writer).await
}

/// What row security lets through from here on. Local to the transaction: a setting of the session would follow the
/// connection to its next borrower. And `SET LOCAL` rather than `set_config()`: a database that is spread over several
/// servers passes the command on to the one where the books are.
pub(super) fn fence_of(id: BooksId) -> String {
    format!("SET LOCAL app.books = '{}'", id.0)
}

/// Moves the fence of the running transaction to other books.
pub(super) async fn fence(connection: &mut AsyncPgConnection, id: BooksId) -> Result<(), StoreError> {
    Ok(connection.batch_execute(&fence_of(id)).await?)
}

type CardRow = (
    String,
    String,
    String,
    String,
    String,
    String,
    String,
    i32,
    NaiveDate,
    Option<String>,
    Option<NaiveDate>,
    Option<String>,
    i64,
    Vec<u8>,
);

async fn card(connection: &mut AsyncPgConnection, id: BooksId, turn: Turn) -> Result<BooksCard, StoreError> {
    let columns = (
        books::name,
        books::base_currency,
        books::accounting_method,
        books::materials_timing,
        books::materials_flow,
        books::tax_profile,
        books::time_zone,
        books::fiscal_year_start_month,
        books::began_on,
        books::mark,
        books::closed_through,
        books::moved_to,
        books::head_number,
        books::head_hash,
    );
    let query = books::table.filter(books::books_id.eq(id.0)).select(columns);
    let row: Option<CardRow> = match turn {
        Turn::Reader => query.first(connection).await.optional()?,
        Turn::Writer => query.for_update().first(connection).await.optional()?,
    };
    let (
        name,
        base,
        method,
        timing,
        flow,
        tax_profile,
        time_zone,
        month,
        began_on,
        mark,
        closed,
        moved_to,
        number,
        hash,
    ) = row.ok_or_else(|| StoreError::NotFound { what: "books", id: id.to_string() })?;
    Ok(BooksCard {
        id,
        name,
        base: read_as("books.base_currency", &base, |code| Currency::find(code).ok())?,
        method: read_as("books.accounting_method", &method, AccountingMethod::named)?,
        timing: read_as("books.materials_timing", &timing, MaterialsTiming::named)?,
        flow: read_as("books.materials_flow", &flow, MaterialsFlow::named)?,
        tax_profile,
        time_zone,
        fiscal_year_begins: read_as("books.fiscal_year_start_month", &month.to_string(), |month| {
            month.parse().ok().and_then(StartMonth::numbered)
        })?,
        began_on,
        mark,
        closed_through: closed,
        moved_to,
        head: chain::Head {
            number,
            hash: chain::Hash::of_bytes(&hash).ok().ok_or_else(|| StoreError::Unreadable {
                column: "books.head_hash",
                found: format!("{hash:?}"),
            })?,
        },
    })
}

impl Books {
    pub const fn id(&self) -> BooksId {
        self.id
    }

    pub const fn of(database: Database, id: BooksId) -> Self {
        Self { database, id }
    }

    /// Looks at the books as they stand at one instant.
    /// # Errors
    /// What `look` finds, or what the store could not do.
    pub async fn read<T>(&self, look: impl AsyncFnOnce(&mut Tx<'_>) -> Result<T, Fault>) -> Result<T, Fault> {
        let id = self.id;
        let _turn = self.database.turn(id, Turn::Reader, None).await?;
        let read = async |connection: &mut AsyncPgConnection| {
            let mut tx = begin_fenced(connection, id, Turn::Reader).await?;
            look(&mut tx).await
        };
        self.database.transaction(id, Turn::Reader, read).await
    }
}

/// New books: what they are from the first day.
#[derive(Clone, Debug)]
pub struct NewBooks {
    pub name: String,
    pub base: Currency,
    pub method: AccountingMethod,
    pub timing: MaterialsTiming,
    pub flow: MaterialsFlow,
    pub tax_profile: TaxProfile,
    pub time_zone: TimeZone,
    pub fiscal_year_begins: StartMonth,
    pub began_on: NaiveDate,
    pub mark: Option<String>,
}

/// Opens new books with their starter accounts, in a transaction that is fenced to them.
pub(super) async fn open_fenced(
    connection: &mut AsyncPgConnection,
    id: BooksId,
    new: &NewBooks,
) -> Result<(), StoreError> {
    diesel::insert_into(books::table)
        .values((
            books::books_id.eq(id.0),
            books::name.eq(&new.name),
            books::base_currency.eq(new.base.code()),
            books::accounting_method.eq(new.method.as_str()),
            books::materials_timing.eq(new.timing.as_str()),
            books::materials_flow.eq(new.flow.as_str()),
            books::tax_profile.eq(new.tax_profile.as_str()),
            books::time_zone.eq(new.time_zone.name()),
            books::fiscal_year_start_month.eq(new.fiscal_year_begins.number().cast_signed()),
            books::began_on.eq(new.began_on),
            books::mark.eq(&new.mark),
            books::head_hash.eq(chain::genesis(id).bytes().to_vec()),
        ))
        .execute(connection)
        .await?;
    let starters: Vec<_> = Account::starters()
        .into_iter()
        .map(|account| {
            (
                accounts::books_id.eq(id.0),
                accounts::code.eq(account.code()),
                accounts::type_.eq(account.kind().as_str()),
            )
        })
        .collect();
    diesel::insert_into(accounts::table).values(starters).execute(connection).await?;
    Ok(())
}

impl Database {
    /// Opens new books with their starter accounts.
    /// # Errors
    /// What the database could not do.
    pub async fn open_books(&self, new: &NewBooks) -> Result<Books, StoreError> {
        let id = BooksId(Uuid::now_v7());
        let open = async |connection: &mut AsyncPgConnection| open_fenced(connection, id, new).await;
        self.transaction(id, Turn::Writer, open).await?;
        Ok(Books::of(self.clone(), id))
    }

    /// The books of that name, the oldest first; for the command line, never for a request.
    /// # Errors
    /// What the database could not do.
    pub async fn books_named(&self, name: &str) -> Result<Vec<BooksListed>, StoreError> {
        let named = async |connection: &mut AsyncPgConnection| {
            let found = diesel::sql_query("SELECT books_id, name, mark FROM books_found($1, NULL)");
            Ok(found.bind::<Text, _>(name).load(connection).await?)
        };
        self.ask(named).await
    }

    /// The books with that id, if they are on this server; for the command line, never for a request.
    /// # Errors
    /// What the database could not do.
    pub async fn books_numbered(&self, id: BooksId) -> Result<Option<BooksListed>, StoreError> {
        let numbered = async |connection: &mut AsyncPgConnection| {
            let found = diesel::sql_query("SELECT books_id, name, mark FROM books_found(NULL, $1)");
            Ok(found.bind::<SqlUuid, _>(id.0).get_result(connection).await.optional()?)
        };
        self.ask(numbered).await
    }

    /// Which books there are on this server; for the command line, never for a request.
    /// # Errors
    /// What the database could not do.
    pub async fn books_on_this_server(&self) -> Result<Vec<BooksListed>, StoreError> {
        let mut connection = self.connection().await?;
        Ok(diesel::sql_query("SELECT books_id, name, mark FROM books_on_this_server()")
            .load(&mut connection)
            .await?)
    }
}

/// One line of the list of all books.
#[derive(Clone, Debug, QueryableByName)]
pub struct BooksListed {
    #[diesel(sql_type = SqlUuid)]
    pub books_id: Uuid,
    #[diesel(sql_type = Text)]
    pub name: String,
    #[diesel(sql_type = Nullable<Text>)]
    pub mark: Option<String>,
}

impl Tx<'_> {
    /// Moves the closed day; the act itself is a record of its own.
    pub(super) async fn set_closed_through(&mut self, day: NaiveDate) -> Result<(), StoreError> {
        diesel::update(books::table.filter(books::books_id.eq(self.id.0)))
            .set(books::closed_through.eq(day))
            .execute(self.connection)
            .await?;
        Ok(())
    }

    pub(super) async fn set_head(&mut self, number: i64, hash: &chain::Hash) -> Result<(), StoreError> {
        diesel::update(books::table.filter(books::books_id.eq(self.id.0)))
            .set((books::head_number.eq(number), books::head_hash.eq(hash.bytes().to_vec())))
            .execute(self.connection)
            .await?;
        self.card.head = chain::Head { number, hash: *hash };
        Ok(())
    }

    /// Not found by its id in these books.
    pub(super) fn missing(what: &'static str, id: impl ToString) -> StoreError {
        StoreError::NotFound { what, id: id.to_string() }
    }
}
