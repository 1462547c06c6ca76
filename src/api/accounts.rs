//! Money accounts over HTTP: what they hold, and what moves between them, the owner and lenders.

use actix_web::{get, patch, post, web};
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::answer::Answer;
use super::batch::recorded;
use super::checked::Checked;
use super::door::{Door, Reads, Records};
use super::lists::listed;
use super::revisions::revised;
use crate::rules::accounts::{
    self, AccountLabels, NewContribution, NewDraw, NewLoan, NewLoanRepayment, NewMoneyAccount, NewTaxPayment,
    NewTransfer,
};
use crate::rules::ids::MoneyAccountId;
use crate::rules::money::{Currency, Money};
use crate::rules::recording::MoneyAccountKind;
use crate::store::accounts::AccountStanding;

listed!(Accounts, "accounts", list_accounts "/v1/accounts", read_account "/v1/accounts/{id}");

/// Which day's balance is asked.
#[derive(Debug, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct StandingQuery {
    /// The last day that counts; all days where it is left out.
    pub on: Option<NaiveDate>,
}

/// What a money account holds.
#[derive(Debug, Serialize, ToSchema)]
pub struct AccountStandingBody {
    pub id: MoneyAccountId,
    pub name: String,
    pub kind: MoneyAccountKind,
    pub currency: Currency,
    /// At the rates of the records that moved it, in the books' currency, `balance_currency`; below zero is owed, as on
    /// a card. An own pocket holds nothing of the business.
    pub balance: Money,
    /// The books' own, whatever the account is kept in.
    pub balance_currency: Currency,
    /// The day of the last posting that counts.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub last_moved_on: Option<NaiveDate>,
}

impl From<AccountStanding> for AccountStandingBody {
    fn from(standing: AccountStanding) -> Self {
        Self {
            id: standing.account.id,
            name: standing.account.name,
            kind: standing.account.kind,
            currency: standing.account.currency,
            balance: standing.balance,
            balance_currency: standing.balance.currency(),
            last_moved_on: standing.last_moved_on,
        }
    }
}

recorded!(
    /// Opens a money account: a bank, a card, a cash box, an own pocket, store credit, a platform's balance.
    "accounts",
    open_account "/v1/accounts", open_account_batch "/v1/accounts/batch",
    NewMoneyAccount, NewMoneyAccountBatch, async |desk, new| Ok(accounts::open(&mut desk.pen(), new)?)
);

revised!(
    /// Changes what a money account is called, or its note.
    "accounts", AccountLabels, AccountLabelsPatch, MoneyAccountId, revise_account "/v1/accounts/{id}"
);

/// Shows what a money account holds, on a day where one is named.
#[utoipa::path(tag = "accounts", params(StandingQuery), responses(
    (status = 200, description = "What it holds", body = AccountStandingBody)
))]
#[get("/v1/accounts/{id}/standing")]
pub async fn show_account_standing(
    door: Door<Reads>,
    id: web::Path<MoneyAccountId>,
    query: web::Query<StandingQuery>,
) -> Answer {
    let (id, on) = (id.into_inner(), query.on);
    door.read(async |tx| Ok(AccountStandingBody::from(tx.account_standing(id, on).await?))).await
}

/// Moves money from one account to another; a card paid off from the bank is one.
#[utoipa::path(tag = "accounts", request_body = NewTransfer)]
#[post("/v1/accounts/transfers")]
pub async fn transfer_money(door: Door<Records>, body: Checked<NewTransfer>) -> Answer {
    door.record(body, async |desk, new| {
        let from = desk.tx.money_account(new.from).await?;
        let to = desk.tx.money_account(new.to).await?;
        Ok(accounts::transfer(&mut desk.pen(), from, to, new)?)
    })
    .await
}

/// Takes in money of the owner's own: a contribution, not income.
#[utoipa::path(tag = "accounts", request_body = NewContribution)]
#[post("/v1/accounts/contributions")]
pub async fn contribute_money(door: Door<Records>, body: Checked<NewContribution>) -> Answer {
    door.record(body, async |desk, new| {
        let into = desk.tx.money_account(new.into).await?;
        Ok(accounts::contribute(&mut desk.pen(), into, new)?)
    })
    .await
}

/// Gives money to the owner: a draw, not an expense.
#[utoipa::path(tag = "accounts", request_body = NewDraw)]
#[post("/v1/accounts/draws")]
pub async fn draw_money(door: Door<Records>, body: Checked<NewDraw>) -> Answer {
    door.record(body, async |desk, new| {
        let from = desk.tx.money_account(new.from).await?;
        Ok(accounts::draw(&mut desk.pen(), from, new)?)
    })
    .await
}

/// Pays the owner's own tax by estimate: a draw for the year it is for.
#[utoipa::path(tag = "accounts", request_body = NewTaxPayment)]
#[post("/v1/accounts/tax-payments")]
pub async fn pay_owner_tax(door: Door<Records>, body: Checked<NewTaxPayment>) -> Answer {
    door.record(body, async |desk, new| {
        let from = desk.tx.money_account(new.from).await?;
        Ok(accounts::pay_tax(&mut desk.pen(), from, new)?)
    })
    .await
}

/// Takes in money lent to the business: a debt, not income.
#[utoipa::path(tag = "accounts", request_body = NewLoan)]
#[post("/v1/accounts/loans")]
pub async fn borrow_money(door: Door<Records>, body: Checked<NewLoan>) -> Answer {
    door.record(body, async |desk, new| {
        let into = desk.tx.money_account(new.into).await?;
        Ok(accounts::borrow(&mut desk.pen(), into, new)?)
    })
    .await
}

/// Pays a loan back: the principal reduces the debt, the interest is a cost. Of a loan that is named, what the rate moved
/// since it came in is an exchange gain or loss.
#[utoipa::path(tag = "accounts", request_body = NewLoanRepayment)]
#[post("/v1/accounts/loan-repayments")]
pub async fn repay_loan(door: Door<Records>, body: Checked<NewLoanRepayment>) -> Answer {
    door.record(body, async |desk, new| {
        let from = desk.tx.money_account(new.from).await?;
        let which = desk.tx.loan_repaid(new.loan).await?;
        Ok(accounts::repay(&mut desk.pen(), from, &which, new)?)
    })
    .await
}
