//! The ledger over HTTP: trial balance, income statement, balance sheet, the ledger of an account, the proof of an entry.

use std::fmt;
use std::str::FromStr;

use actix_web::{HttpRequest, HttpResponse, get, web};
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::answer::Answer;
use super::checked::in_our_years;
use super::door::{Door, Reads};
use super::formats::{Format, format_of, report};
use super::lists::{NextPage, NoPlace, SealedCursor, cut_to, limit_of, place_of};
use super::problem::{Problem, ProblemKind};
use crate::export::ledger as files;
use crate::rules::journal::Account;
use crate::rules::ledger::{self, AccountLine, BalanceSheet, EntryProof, IncomeStatement, TrialBalance};
use crate::rules::money::{Currency, Money};
use crate::store::error::Fault;
use crate::store::ledger::{AfterMoved, Counted, LedgerDays};

/// What a report of one day takes in its query.
#[derive(Clone, Debug, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct DayQuery {
    /// The last day counted; all that is recorded where it is left out.
    pub on: Option<NaiveDate>,
    /// `json`, `csv` or `text`; the header Accept decides where it is left out.
    #[param(pattern = "^(json|csv|text)$", example = "csv")]
    pub format: Option<String>,
}

/// What a report of some days takes in its query.
#[derive(Clone, Debug, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct DaysQuery {
    /// The first day, included.
    pub from: Option<NaiveDate>,
    /// The last day, included.
    pub to: Option<NaiveDate>,
    /// `json`, `csv` or `text`; the header Accept decides where it is left out.
    #[param(pattern = "^(json|csv|text)$", example = "csv")]
    pub format: Option<String>,
}

/// Shows every account on the side it stands on.
#[utoipa::path(tag = "ledger", params(DayQuery), responses(
    (status = 200, description = "The trial balance", content(
        (TrialBalance = "application/json"), (String = "text/csv"), (String = "text/plain")
    ))
))]
#[get("/v1/ledger/trial-balance")]
pub async fn show_trial_balance(
    door: Door<Reads>,
    query: web::Query<DayQuery>,
    request: HttpRequest,
) -> Answer {
    let (on, format) = (query.on, format_of(query.format.as_deref(), &request, Format::ALL)?);
    let found = door.look(async |tx| {
        let sums = tx.account_sums(LedgerDays { from: None, to: on }, Counted::All).await?;
        Ok((ledger::trial_balance(&sums, on, tx.card().base).map_err(Fault::of)?, tx.card().head))
    });
    let (trial, head) = found.await?;
    report(
        format,
        "trial-balance",
        &trial,
        || files::trial_balance_csv(&trial, &head),
        || files::trial_balance_text(&trial, &head),
    )
}

/// Shows what some days earned and cost in the journal; closing entries are left out.
#[utoipa::path(tag = "ledger", params(DaysQuery), responses(
    (status = 200, description = "The income statement", content(
        (IncomeStatement = "application/json"), (String = "text/csv"), (String = "text/plain")
    ))
))]
#[get("/v1/ledger/income-statement")]
pub async fn show_income_statement(
    door: Door<Reads>,
    query: web::Query<DaysQuery>,
    request: HttpRequest,
) -> Answer {
    let (from, to) = (query.from, query.to);
    let format = format_of(query.format.as_deref(), &request, Format::ALL)?;
    let found = door.look(async |tx| {
        let sums = tx.account_sums(LedgerDays { from, to }, Counted::WithoutClosings).await?;
        let statement = ledger::income_statement(&sums, from, to, tx.card().base).map_err(Fault::of)?;
        Ok((statement, tx.card().head))
    });
    let (statement, head) = found.await?;
    report(
        format,
        "income-statement",
        &statement,
        || files::income_statement_csv(&statement, &head),
        || files::income_statement_text(&statement, &head),
    )
}

/// Shows what the business has and owes on a day, and what of it is the owner's.
#[utoipa::path(tag = "ledger", params(DayQuery), responses(
    (status = 200, description = "The balance sheet", content(
        (BalanceSheet = "application/json"), (String = "text/csv"), (String = "text/plain")
    ))
))]
#[get("/v1/ledger/balance-sheet")]
pub async fn show_balance_sheet(
    door: Door<Reads>,
    query: web::Query<DayQuery>,
    request: HttpRequest,
) -> Answer {
    let (on, format) = (query.on, format_of(query.format.as_deref(), &request, Format::ALL)?);
    let found = door.look(async |tx| {
        let sums = tx.account_sums(LedgerDays { from: None, to: on }, Counted::All).await?;
        Ok((ledger::balance_sheet(&sums, on, tx.card().base).map_err(Fault::of)?, tx.card().head))
    });
    let (sheet, head) = found.await?;
    report(
        format,
        "balance-sheet",
        &sheet,
        || files::balance_sheet_csv(&sheet, &head),
        || files::balance_sheet_text(&sheet, &head),
    )
}

/// What the ledger of an account takes in its query.
#[derive(Clone, Debug, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct AccountLedgerQuery {
    /// The first day, included.
    pub from: Option<NaiveDate>,
    /// The last day, included.
    pub to: Option<NaiveDate>,
    /// At most this many, 1 to 200; 50 where it is left out.
    #[param(minimum = 1, maximum = 200)]
    pub limit: Option<i64>,
    /// Where the page before ended, as its `next` says.
    #[param(value_type = Option<String>, max_length = 120)]
    pub cursor: Option<SealedCursor>,
}

/// A page of an account's ledger.
#[derive(Debug, Serialize, ToSchema)]
pub struct AccountLedgerBody {
    #[schema(example = "expense:supplies")]
    pub account: String,
    pub name: String,
    pub currency: Currency,
    /// What stood on it before the first line of this page; debits positive.
    pub before: Money,
    pub items: Vec<AccountLine>,
    /// The address of the next page.
    pub next: Option<String>,
}

/// A place in the ledger of an account, on the wire.
struct MovedCursor(AfterMoved);

impl fmt::Display for MovedCursor {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{}.{}.{}", self.0.date, self.0.entry, self.0.line)
    }
}

impl FromStr for MovedCursor {
    type Err = NoPlace;

    fn from_str(text: &str) -> Result<Self, NoPlace> {
        let mut parts = text.splitn(3, '.');
        let mut part = || parts.next().unwrap_or_default();
        match (part().parse(), part().parse(), part().parse()) {
            (Ok(date), Ok(entry), Ok(line)) if in_our_years(date) => {
                Ok(Self(AfterMoved { date, entry, line }))
            }
            _ => Err(NoPlace),
        }
    }
}

/// Shows the ledger of one account by its code, such as `expense:supplies`: what moved on it, by day, with what stood on it after each line.
#[utoipa::path(tag = "ledger", params(AccountLedgerQuery), responses(
    (status = 200, description = "A page", body = AccountLedgerBody)
))]
#[get("/v1/ledger/accounts/{account}")]
pub async fn show_account_ledger(
    door: Door<Reads>,
    account: web::Path<String>,
    query: web::Query<AccountLedgerQuery>,
) -> Answer {
    let limit = limit_of(query.limit)?;
    let account = Account::of_code(&account).ok_or_else(|| {
        Problem::new(ProblemKind::NotFound)
            .with(format!("there is no account '{account}'; GET /v1/ledger/trial-balance shows the codes"))
    })?;
    let first = query.from.map_or_else(AfterMoved::nothing, AfterMoved::day_before);
    let after = place_of::<MovedCursor>(query.cursor.as_ref())?.map_or(first, |cursor| cursor.0);
    let to = query.to;
    let found = door.look(async |tx| {
        let before = tx.stood_on(account, after).await?;
        let moved = tx.moved_on(account, after, to, limit + 1).await?;
        Ok((tx.account_name(account).await?, before, moved, tx.card().base))
    });
    let (name, before, mut moved, currency) = found.await?;
    let more = cut_to(&mut moved, limit);
    let last = moved.last().filter(|_| more);
    let next = last.map(|last| {
        let cursor = MovedCursor(AfterMoved { date: last.date, entry: last.entry, line: last.line });
        let next = NextPage::after(format!("/v1/ledger/accounts/{}", account.code()), cursor)
            .with("from", query.from)
            .with("to", query.to)
            .with("limit", query.limit);
        door.address_of(&next)
    });
    let items =
        ledger::run(before, &moved).map_err(|finding| Problem::of_fault(&Fault::of(finding), None))?;
    let account = account.code();
    let body = AccountLedgerBody { account, name, currency, before, items, next };
    Ok(HttpResponse::Ok().json(body))
}

/// Proves that an entry is part of the chain: what its hash was taken of, and the hash before it.
#[utoipa::path(tag = "ledger", responses((status = 200, description = "The proof", body = EntryProof)))]
#[get("/v1/entries/{number}/proof")]
pub async fn prove_entry(door: Door<Reads>, number: web::Path<i64>) -> Answer {
    let number = number.into_inner();
    door.read(async |tx| {
        let (before, entry) = tx.sealed_entry(number).await?;
        let books = tx.card().id;
        Ok(ledger::prove(books, before, &entry, tx.card().head))
    })
    .await
}
