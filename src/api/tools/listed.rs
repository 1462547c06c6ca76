//! Tools in a list.

use chrono::NaiveDate;
use serde::Serialize;
use utoipa::ToSchema;

use crate::api::lists::Placed;
use crate::rules::ids::{RecordId, ToolId};
use crate::rules::money::Money;
use crate::rules::rows::ToolOrigin;
use crate::rules::tools::ToolState;
use crate::store::records::After;
use crate::store::tools::ToolListed;

/// A tool in a list; money in the books' base currency.
#[derive(Debug, Serialize, ToSchema)]
pub struct ToolListedBody {
    pub id: ToolId,
    /// The record that brought it, a receipt or a gift perhaps: `GET /v1/records/{id}`.
    pub record: RecordId,
    pub name: String,
    pub origin: ToolOrigin,
    pub acquired_on: NaiveDate,
    pub in_service_on: NaiveDate,
    pub cost: Money,
    pub state: ToolState,
    /// Left out while it is in use.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub disposed_on: Option<NaiveDate>,
    /// Where its uses, shares and what is left of it are shown.
    #[schema(example = "/v1/tools/0192a1b2-0000-7000-8000-000000000001/standing")]
    pub standing: String,
}

impl From<ToolListed> for ToolListedBody {
    fn from(one: ToolListed) -> Self {
        Self {
            standing: format!("/v1/tools/{}/standing", one.id),
            id: one.id,
            record: one.record,
            name: one.name,
            origin: one.origin,
            acquired_on: one.acquired_on,
            in_service_on: one.in_service_on,
            cost: one.cost,
            state: ToolState::of(one.disposed_on),
            disposed_on: one.disposed_on,
        }
    }
}

impl Placed for ToolListedBody {
    fn place(&self) -> After {
        After { date: self.acquired_on, id: self.id.0 }
    }
}
