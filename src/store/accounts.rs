//! Money accounts: where money sits.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use uuid::Uuid;

use super::books::Tx;
use super::error::StoreError;
use super::schema::{accounts, money_accounts};
use super::{live, read_as};
use crate::rules::ids::{MoneyAccountId, RecordId};
use crate::rules::journal::Account;
use crate::rules::money::Currency;
use crate::rules::recording::{MoneyAccount, MoneyAccountKind};
use crate::rules::rows::MoneyAccountRow;

impl Tx<'_> {
    pub(super) async fn add_money_account(
        &mut self,
        record: RecordId,
        row: &MoneyAccountRow,
    ) -> Result<(), StoreError> {
        let account = Account::Money(row.id);
        diesel::insert_into(accounts::table)
            .values((
                accounts::books_id.eq(self.id.0),
                accounts::code.eq(account.code()),
                accounts::type_.eq(account.kind().as_str()),
            ))
            .execute(self.connection)
            .await?;
        diesel::insert_into(money_accounts::table)
            .values((
                money_accounts::books_id.eq(self.id.0),
                money_accounts::id.eq(row.id.0),
                money_accounts::record_id.eq(record.0),
                money_accounts::name.eq(&row.name),
                money_accounts::kind.eq(row.kind.as_str()),
                money_accounts::currency.eq(row.currency.code()),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }

    /// A money account that a request names.
    /// # Errors
    /// [`StoreError::UnknownId`].
    pub async fn money_account(&mut self, id: MoneyAccountId) -> Result<MoneyAccount, StoreError> {
        let row: Option<(String, String)> = money_accounts::table
            .filter(money_accounts::books_id.eq(self.id.0))
            .filter(money_accounts::id.eq(id.0))
            .filter(live!(money_accounts))
            .select((money_accounts::kind, money_accounts::currency))
            .first(self.connection)
            .await
            .optional()?;
        let (kind, currency) =
            row.ok_or_else(|| StoreError::UnknownId { what: "accounts".to_owned(), id: id.0 })?;
        Ok(MoneyAccount {
            id,
            kind: read_as("money_accounts.kind", &kind, MoneyAccountKind::named)?,
            currency: read_as("money_accounts.currency", &currency, |code| Currency::find(code).ok())?,
        })
    }

    /// The same for an account that a request may leave out.
    /// # Errors
    /// [`StoreError::UnknownId`].
    pub async fn money_account_if_named(
        &mut self,
        id: Option<MoneyAccountId>,
    ) -> Result<Option<MoneyAccount>, StoreError> {
        match id {
            Some(id) => Ok(Some(self.money_account(id).await?)),
            None => Ok(None),
        }
    }

    /// Names of money accounts by their id, for reports.
    /// # Errors
    /// What the database could not do.
    pub async fn money_account_names(&mut self) -> Result<Vec<(Uuid, String)>, StoreError> {
        Ok(money_accounts::table
            .filter(money_accounts::books_id.eq(self.id.0))
            .order(money_accounts::id)
            .select((money_accounts::id, money_accounts::name))
            .load(self.connection)
            .await?)
    }
}
