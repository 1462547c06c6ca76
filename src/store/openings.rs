//! Opening positions: whether an account's was stated before.

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;

use super::books::Tx;
use super::error::StoreError;
use super::live;
use super::schema::{entries, postings};
use crate::rules::journal::{Account, EntryKind};
use crate::rules::openings::NewOpening;

impl Tx<'_> {
    /// The day an opening balance of the account named in `asked` stands for, if one does.
    /// # Errors
    /// What the database could not do.
    pub async fn opening_stated_on(&mut self, asked: &NewOpening) -> Result<Option<NaiveDate>, StoreError> {
        let money = asked.account.map(Account::Money);
        let Some(account) = money.or(asked.standing.map(|standing| standing.account())) else {
            return Ok(None);
        };
        // Only an opening balance posts these accounts with an entry of this kind.
        Ok(entries::table
            .inner_join(
                postings::table.on(postings::books_id
                    .eq(entries::books_id)
                    .and(postings::entry_number.eq(entries::number))),
            )
            .filter(entries::books_id.eq(self.id.0))
            .filter(entries::kind.eq(EntryKind::Opening.as_str()))
            .filter(postings::account.eq(account.code()))
            .filter(live!(entries))
            .order(entries::number)
            .select(entries::date)
            .first(self.connection)
            .await
            .optional()?)
    }
}
