//! Deals in a list.

use chrono::NaiveDate;
use serde::Serialize;
use utoipa::ToSchema;

use crate::api::lists::Placed;
use crate::rules::deals::still_open;
use crate::rules::ids::{DealId, PartyId, RecordId};
use crate::rules::money::{Currency, Money, MoneyFinding};
use crate::store::deals::DealListed;
use crate::store::records::After;

/// A deal in a list; sums in its own currency.
#[derive(Debug, Serialize, ToSchema)]
pub struct DealListedBody {
    pub id: DealId,
    /// The record that agreed it, or stated it as an opening position.
    pub record: RecordId,
    pub title: String,
    pub sponsor: PartyId,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub agency: Option<PartyId>,
    pub agreed_on: NaiveDate,
    pub currency: Currency,
    pub agreed: Money,
    /// What of `agreed` is still to come; zero where more came in.
    pub open: Money,
    /// Where what came in, what is due and what was promised are shown.
    #[schema(example = "/v1/deals/0192a1b2-0000-7000-8000-000000000001/standing")]
    pub standing: String,
}

impl DealListedBody {
    /// # Errors
    /// A sum that is too large.
    pub fn of(one: DealListed) -> Result<Self, MoneyFinding> {
        let deal = one.deal;
        Ok(Self {
            standing: format!("/v1/deals/{}/standing", deal.id),
            id: deal.id,
            record: one.record,
            title: deal.title,
            sponsor: deal.sponsor,
            agency: deal.agency,
            agreed_on: deal.agreed_on,
            currency: deal.agreed.currency(),
            agreed: deal.agreed,
            open: still_open(deal.agreed, one.paid)?,
        })
    }
}

impl Placed for DealListedBody {
    fn place(&self) -> After {
        After { date: self.agreed_on, id: self.id.0 }
    }
}
