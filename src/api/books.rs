//! Books over HTTP: what they are, further ones, closing and reopening.

use actix_web::{HttpResponse, get, post};
use chrono::{DateTime, Datelike, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::answer::Answer;
use super::checked::{Checked, Understood};
use super::door::{Administers, Closes, Door, Reads};
use super::lists::listed;
use super::problem::Problem;
use super::tokens::fresh_token;
use crate::rules::books::{self, NewClosing, NewReopening, TaxProfile, TimeZone};
use crate::rules::costing::StartMonth;
use crate::rules::ids::{BooksId, IdSource};
use crate::rules::money::Currency;
use crate::rules::recording::{AccountingMethod, MaterialsFlow, MaterialsTiming};
use crate::rules::refusal::{At, Findings, Refusal};
use crate::rules::tokens::{Scope, end_of};
use crate::store::books::{BooksCard, NewBooks};
use crate::store::error::Fault;
use crate::store::recording::FreshIds;
use crate::store::tokens::TokenToKeep;

listed!(Books, "books", list_period_acts "/v1/books/acts", read_period_act "/v1/books/acts/{id}");

/// One set of books.
#[derive(Debug, Serialize, ToSchema)]
pub struct BooksBody {
    pub id: BooksId,
    pub name: String,
    pub base_currency: Currency,
    pub accounting_method: AccountingMethod,
    pub materials_timing: MaterialsTiming,
    pub materials_flow: MaterialsFlow,
    /// Whose tax law the summaries follow.
    pub tax_profile: String,
    /// A name of the IANA time zone database: it decides which day today is.
    pub time_zone: String,
    pub fiscal_year_begins: StartMonth,
    /// The first day that has entries of its own; what was there before is an opening position.
    pub began_on: NaiveDate,
    /// The last day that is closed; null while every day is open.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub closed_through: Option<NaiveDate>,
    /// The address where these books are kept now; left out while they are kept here. Until they move back, nothing is
    /// recorded here.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(format = "uri", max_length = 2_000)]
    pub moved_to: Option<String>,
    /// Number and hash of the last entry: keep them, and a cut or changed journal shows against them.
    pub head_number: i64,
    /// In hexadecimal; every entry before it leads to it.
    pub head_hash: String,
}

impl From<&BooksCard> for BooksBody {
    fn from(card: &BooksCard) -> Self {
        Self {
            id: card.id,
            name: card.name.clone(),
            base_currency: card.base,
            accounting_method: card.method,
            materials_timing: card.timing,
            materials_flow: card.flow,
            tax_profile: card.tax_profile.clone(),
            time_zone: card.time_zone.clone(),
            fiscal_year_begins: card.fiscal_year_begins,
            began_on: card.began_on,
            closed_through: card.closed_through,
            moved_to: card.moved_to.clone(),
            head_number: card.head.number,
            head_hash: card.head.hash.to_string(),
        }
    }
}

/// New books with the choices that hold from their first day.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewBooksBody {
    #[schema(min_length = 1, max_length = 200, example = "Fernbank Workshop")]
    pub name: String,
    pub base_currency: Currency,
    /// The day the books begin; what was before it comes in as opening positions.
    pub began_on: NaiveDate,
    /// Cash where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub accounting_method: Option<AccountingMethod>,
    /// When used where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub materials_timing: Option<MaterialsTiming>,
    /// First in, first out where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub materials_flow: Option<MaterialsFlow>,
    /// `us` where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tax_profile: Option<TaxProfile>,
    /// A name in the IANA time zone database; `UTC` where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(max_length = 60, example = "America/Chicago")]
    pub time_zone: Option<String>,
    /// January where it is left out. It is the year of GET /v1/costing/years/{year}; the tax year is the calendar year.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fiscal_year_begins: Option<StartMonth>,
}

impl NewBooksBody {
    /// What is left out is the usual choice.
    /// # Errors
    /// What no schema can check: the currency on the first day, and the time zone.
    pub fn books(&self) -> Result<NewBooks, Refusal> {
        let mut findings = Findings::new();
        findings.keep(self.base_currency.good_on(self.began_on).at("/base_currency"));
        let given = self.time_zone.as_deref().map_or(Ok(TimeZone::UTC), TimeZone::find);
        let time_zone = findings.keep(given.at("/time_zone")).unwrap_or(TimeZone::UTC);
        findings.or_refuse()?;
        Ok(NewBooks {
            name: self.name.clone(),
            base: self.base_currency,
            method: self.accounting_method.unwrap_or(AccountingMethod::Cash),
            timing: self.materials_timing.unwrap_or(MaterialsTiming::WhenUsed),
            flow: self.materials_flow.unwrap_or(MaterialsFlow::Fifo),
            tax_profile: self.tax_profile.unwrap_or(TaxProfile::UnitedStates),
            time_zone,
            fiscal_year_begins: self.fiscal_year_begins.unwrap_or(StartMonth::January),
            began_on: self.began_on,
            mark: None,
        })
    }
}

/// New books and the one token that opens them; it is shown this once.
#[derive(Debug, Serialize, ToSchema)]
pub struct BooksMadeBody {
    pub id: BooksId,
    /// The first token of the new books. Shown this once; keep it.
    pub token: String,
    /// When the token ends.
    pub expires_at: DateTime<Utc>,
}

/// Shows the books that the token opens.
#[utoipa::path(tag = "books", responses((status = 200, description = "The books", body = BooksBody)))]
#[get("/v1/books")]
pub async fn show_books(door: Door<Reads>) -> Answer {
    door.read(async |tx| Ok(BooksBody::from(tx.card()))).await
}

/// Opens further books beside these, with an admin token of their own.
#[utoipa::path(tag = "books", request_body = NewBooksBody, responses(
    (status = 201, description = "The books", body = BooksMadeBody)
))]
#[post("/v1/books")]
pub async fn open_books(door: Door<Administers>, body: Checked<NewBooksBody>) -> Answer {
    let Understood { sent, value: new } = body.understood()?;
    let (act, key) = door.administering(&sent)?;
    let opened = BooksId(FreshIds.next());
    let (token, hash) = fresh_token(opened)?;
    let said = |fault: Fault| Problem::of_fault(&fault, Some(&sent));
    let books = new.books().map_err(|refusal| said(refusal.into()))?;
    let expires_at = end_of(None, Utc::now()).map_err(|refusal| said(refusal.into()))?;
    let first = TokenToKeep { name: "first".to_owned(), scope: Scope::Admin, expires_at, hash };
    let made = door.holder.books.open_beside(&act, key.as_ref(), opened, &books, &first).await;
    made.map_err(said)?;
    Ok(HttpResponse::Created().json(BooksMadeBody { id: opened, token, expires_at }))
}

/// Closes a period: its days take no more entries. Over the end of a tax year it posts what the year writes off of
/// tools, and closes the year's result to equity.
#[utoipa::path(tag = "books", request_body = NewClosing)]
#[post("/v1/books/closing")]
pub async fn close_period(door: Door<Closes>, body: Checked<NewClosing>) -> Answer {
    door.record(body, async |desk, new| {
        let journal = desk.tx.journal_begins().await?;
        let ending = books::year_ending(&desk.facts, journal, new)?;
        let ending = desk.tx.year_end(ending).await?;
        Ok(books::close(&desk.pen(), new, &ending)?)
    })
    .await
}

/// Reopens a closed period, with the reason on record. What was posted at the end of a year that is open again is
/// taken back.
#[utoipa::path(tag = "books", request_body = NewReopening)]
#[post("/v1/books/reopening")]
pub async fn reopen_period(door: Door<Closes>, body: Checked<NewReopening>) -> Answer {
    door.record(body, async |desk, new| {
        let posted = desk.tx.year_ends_since(new.from.year()).await?;
        Ok(books::reopen(&desk.pen(), new, &posted)?)
    })
    .await
}
