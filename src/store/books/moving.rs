//! Moving: books that are kept on another server from now on stay readable here, and take no more changes.

use diesel::prelude::*;
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use url::Url;

use super::{Books, Turn, Tx, card};
use crate::rules::ids::BooksId;
use crate::store::audit::{About, Act};
use crate::store::error::StoreError;
use crate::store::schema::books;

impl Books {
    /// Marks the books as kept at `to` from now on. Every later change is refused with that address.
    /// # Errors
    /// [`StoreError::Moved`] where they have moved already; [`StoreError::NotFound`].
    pub async fn move_to(&self, act: &Act, to: &Url) -> Result<(), StoreError> {
        let id = self.id;
        let mark = async |connection: &mut AsyncPgConnection| {
            let mut tx = super::begin_fenced(connection, id, Turn::Writer).await?;
            tx.takes_changes()?;
            // First the change log: the trigger lets no line in once the books have moved.
            tx.note(act, About::Books(id)).await?;
            let moved = (books::moved_to.eq(to.as_str()), books::moved_at.eq(diesel::dsl::now));
            diesel::update(books::table.filter(books::books_id.eq(id.0)))
                .set(moved)
                .execute(tx.connection)
                .await?;
            Ok(())
        };
        self.database.transaction(id, Turn::Writer, mark).await
    }

    /// Lets the books take changes here again.
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn move_back(&self, act: &Act) -> Result<(), StoreError> {
        let id = self.id;
        let unmark = async |connection: &mut AsyncPgConnection| take_back(connection, id, act).await;
        self.database.transaction(id, Turn::Writer, unmark).await
    }
}

/// [`Books::move_back`] in a transaction that is under way and fenced to the books.
pub(in crate::store) async fn take_back(
    connection: &mut AsyncPgConnection,
    id: BooksId,
    act: &Act,
) -> Result<(), StoreError> {
    let card = card(connection, id, Turn::Writer).await?;
    let back =
        (books::moved_to.eq(None::<String>), books::moved_at.eq(None::<chrono::DateTime<chrono::Utc>>));
    diesel::update(books::table.filter(books::books_id.eq(id.0))).set(back).execute(connection).await?;
    let mut tx = Tx { connection, id, card };
    tx.note(act, About::Books(id)).await?;
    Ok(())
}
