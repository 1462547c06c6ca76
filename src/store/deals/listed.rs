//! The list of deals, however each came.

use diesel::dsl::exists;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use uuid::Uuid;

use super::facts::DealRow;
use crate::rules::ids::RecordId;
use crate::rules::money::Money;
use crate::rules::rows::Deal;
use crate::store::books::Tx;
use crate::store::error::StoreError;
use crate::store::live;
use crate::store::records::{After, ThingFilter};
use crate::store::schema::{deal_shares, deals};

/// A deal as a list shows it.
#[derive(Clone, Debug)]
pub struct DealListed {
    pub deal: Deal,
    /// The record that agreed it, or stated it as an opening position.
    pub record: RecordId,
    /// Gross, with what was paid before the books began and less what went back; in the deal's own currency.
    pub paid: Money,
}

/// Whether the deal counts for that in the column.
macro_rules! counts_for {
    ($books:expr, $column:ident, $id:expr) => {
        exists(
            deal_shares::table
                .filter(deal_shares::books_id.eq($books))
                .filter(deal_shares::deal_id.eq(deals::id))
                .filter(deal_shares::$column.eq($id))
                .filter(live!(deal_shares)),
        )
    };
}

impl Tx<'_> {
    /// A page of the deals that stand, the earliest agreed first, at most `limit`. Of an episode or a project are
    /// those that count for it; of a party those where it is the sponsor or the agency.
    /// # Errors
    /// What the database could not do.
    pub async fn deals_listed(
        &mut self,
        filter: &ThingFilter,
        after: Option<After>,
        limit: i64,
    ) -> Result<Vec<DealListed>, StoreError> {
        let books = self.id.0;
        let mut query = deals::table
            .filter(deals::books_id.eq(books))
            .filter(live!(deals))
            .order((deals::agreed_on, deals::id))
            .limit(limit)
            .select(DealRow::as_select())
            .into_boxed();
        if let Some(from) = filter.from {
            query = query.filter(deals::agreed_on.ge(from));
        }
        if let Some(to) = filter.to {
            query = query.filter(deals::agreed_on.le(to));
        }
        if let Some(episode) = filter.episode {
            query = query.filter(counts_for!(books, episode_id, episode.0));
        }
        if let Some(project) = filter.project {
            query = query.filter(counts_for!(books, project_id, project.0));
        }
        if let Some(party) = filter.party {
            query = query.filter(deals::sponsor_id.eq(party.0).or(deals::agency_id.eq(party.0)));
        }
        if let Some(After { date, id }) = after {
            query =
                query.filter(deals::agreed_on.gt(date).or(deals::agreed_on.eq(date).and(deals::id.gt(id))));
        }
        let rows: Vec<DealRow> = query.load(self.connection).await?;
        let ids: Vec<Uuid> = rows.iter().map(DealRow::id).collect();
        let moved = self.moved_on_deals(&ids).await?;
        rows.into_iter()
            .map(|row| {
                let (record, deal) = row.read()?;
                let paid = moved.paid_on(&deal)?;
                Ok(DealListed { deal, record, paid })
            })
            .collect()
    }
}
