//! Money accounts: where money sits.

use chrono::NaiveDate;
use diesel::dsl::{max, sum};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use super::books::Tx;
use super::error::StoreError;
use super::schema::{accounts, entries, money_accounts, postings};
use super::{live, money, read_as};
use crate::rules::accounts::{LoanOwed, LoanRepaid, NewLoan};
use crate::rules::ids::{MoneyAccountId, RecordId};
use crate::rules::journal::{Account, EntryKind};
use crate::rules::money::{Currency, Money};
use crate::rules::recording::{MoneyAccount, MoneyAccountKind, Word};
use crate::rules::rows::MoneyAccountRow;

/// What a money account holds, by its postings.
#[derive(Clone, Debug)]
pub struct AccountStanding {
    pub account: MoneyAccountRow,
    /// In the books' currency.
    pub balance: Money,
    pub last_moved_on: Option<NaiveDate>,
}

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

    /// The loan that a repayment names, with what was paid back of it.
    /// # Errors
    /// [`StoreError::UnknownId`]: no such loan, or it was taken back.
    pub async fn loan_repaid(&mut self, named: Option<RecordId>) -> Result<LoanRepaid, StoreError> {
        let Some(record) = named else { return Ok(LoanRepaid::Unnamed) };
        let unknown = || StoreError::UnknownId { what: "loans".to_owned(), id: record.0 };
        let kept = match self.record(Some(Word::Accounts), record).await {
            Err(StoreError::NotFound { .. }) => return Err(unknown()),
            kept => kept?,
        };
        if kept.reversed_by.is_some() || kept.kind != "loan" {
            return Err(unknown());
        }
        let loan: NewLoan = serde_json::from_value(kept.facts)?;
        let currency = self.money_account(loan.into).await?.currency;
        let mut repaid = Vec::new();
        for one in self.live_dependants(record, Word::Accounts, "loan_repayment").await? {
            repaid.push(serde_json::from_value(self.record(Some(Word::Accounts), one).await?.facts)?);
        }
        Ok(LoanRepaid::Named(Box::new(LoanOwed { record, loan, currency, repaid })))
    }

    /// What an account holds after the day `on`, or after all days.
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn account_standing(
        &mut self,
        id: MoneyAccountId,
        on: Option<NaiveDate>,
    ) -> Result<AccountStanding, StoreError> {
        let row: Option<(String, String, String)> = money_accounts::table
            .filter(money_accounts::books_id.eq(self.id.0))
            .filter(money_accounts::id.eq(id.0))
            .filter(live!(money_accounts))
            .select((money_accounts::name, money_accounts::kind, money_accounts::currency))
            .first(self.connection)
            .await
            .optional()?;
        let (name, kind, currency) = row.ok_or_else(|| Self::missing("account", id))?;
        let day = on.unwrap_or(NaiveDate::MAX);
        // A reversal's postings count against those it takes back, so no row is left out.
        let (total, last_moved_on): (Option<Decimal>, Option<NaiveDate>) =
            postings::table
                .inner_join(entries::table.on(
                    entries::books_id.eq(postings::books_id).and(entries::number.eq(postings::entry_number)),
                ))
                .filter(postings::books_id.eq(self.id.0))
                .filter(postings::account.eq(Account::Money(id).code()))
                .filter(entries::date.le(day))
                .select((sum(postings::amount), max(entries::date)))
                .first(self.connection)
                .await?;
        Ok(AccountStanding {
            account: MoneyAccountRow {
                id,
                name,
                kind: read_as("money_accounts.kind", &kind, MoneyAccountKind::named)?,
                currency: read_as("money_accounts.currency", &currency, |code| Currency::find(code).ok())?,
            },
            balance: money("postings.amount", total.unwrap_or_default(), self.card().base)?,
            last_moved_on,
        })
    }

    /// Live records that moved money on the account that `opened` opened: they stand on it without a link.
    pub(super) async fn records_on_account(&mut self, opened: RecordId) -> Result<Vec<RecordId>, StoreError> {
        let account = Account::Money(MoneyAccountId(opened.0));
        let rows: Vec<Uuid> =
            entries::table
                .inner_join(postings::table.on(
                    postings::books_id.eq(entries::books_id).and(postings::entry_number.eq(entries::number)),
                ))
                .filter(entries::books_id.eq(self.id.0))
                .filter(postings::account.eq(account.code()))
                .filter(entries::kind.ne(EntryKind::Reversal.as_str()))
                .filter(live!(entries))
                .select(entries::record_id)
                .distinct()
                .order(entries::record_id)
                .load(self.connection)
                .await?;
        Ok(rows.into_iter().map(RecordId).collect())
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
