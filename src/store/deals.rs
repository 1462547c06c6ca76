//! Deals and what came in; `deals/promised.rs` has what was promised.

mod came_in;
mod facts;
mod invoiced;
mod listed;
mod promised;

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use uuid::Uuid;

use super::books::Tx;
use super::error::StoreError;
use super::recording::object_columns;
use super::schema::{clawbacks, deal_shares, deals, instalments, instalments_due};
use crate::rules::ids::RecordId;
use crate::rules::rows::{Clawback, Deal, DealShare, Instalment, InstalmentDue};

pub use listed::DealListed;

impl Tx<'_> {
    pub(super) async fn add_deal(&mut self, record: RecordId, row: &Deal) -> Result<(), StoreError> {
        diesel::insert_into(deals::table)
            .values((
                deals::books_id.eq(self.id.0),
                deals::record_id.eq(record.0),
                deals::id.eq(row.id.0),
                deals::sponsor_id.eq(row.sponsor.0),
                deals::agency_id.eq(row.agency.map(|agency| agency.0)),
                deals::title.eq(&row.title),
                deals::agreed_on.eq(row.agreed_on),
                deals::currency.eq(row.agreed.currency().code()),
                deals::agreed.eq(row.agreed.amount()),
                deals::paid_before.eq(row.paid_before.amount()),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }

    pub(super) async fn add_deal_share(
        &mut self,
        record: RecordId,
        row: &DealShare,
    ) -> Result<(), StoreError> {
        let (episode, project) = object_columns(Some(row.object));
        diesel::insert_into(deal_shares::table)
            .values((
                deal_shares::books_id.eq(self.id.0),
                deal_shares::record_id.eq(record.0),
                deal_shares::id.eq(Uuid::now_v7()),
                deal_shares::deal_id.eq(row.deal.0),
                deal_shares::episode_id.eq(episode),
                deal_shares::project_id.eq(project),
                deal_shares::weight.eq(row.weight),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }

    pub(super) async fn add_instalment_due(
        &mut self,
        record: RecordId,
        row: &InstalmentDue,
    ) -> Result<(), StoreError> {
        diesel::insert_into(instalments_due::table)
            .values((
                instalments_due::books_id.eq(self.id.0),
                instalments_due::record_id.eq(record.0),
                instalments_due::id.eq(Uuid::now_v7()),
                instalments_due::deal_id.eq(row.deal.0),
                instalments_due::due_on.eq(row.due_on),
                instalments_due::amount.eq(row.amount.amount()),
                instalments_due::what.eq(&row.what),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }

    pub(super) async fn add_clawback(&mut self, record: RecordId, row: &Clawback) -> Result<(), StoreError> {
        diesel::insert_into(clawbacks::table)
            .values((
                clawbacks::books_id.eq(self.id.0),
                clawbacks::record_id.eq(record.0),
                clawbacks::deal_id.eq(row.deal.0),
                clawbacks::paid_on.eq(row.paid_on),
                clawbacks::counts.eq(row.counts.amount()),
                clawbacks::amount.eq(row.amount.amount()),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }

    pub(super) async fn add_instalment(
        &mut self,
        record: RecordId,
        row: &Instalment,
    ) -> Result<(), StoreError> {
        diesel::insert_into(instalments::table)
            .values((
                instalments::books_id.eq(self.id.0),
                instalments::record_id.eq(record.0),
                instalments::deal_id.eq(row.deal.0),
                instalments::counts.eq(row.counts.amount()),
                instalments::gross.eq(row.gross.amount()),
                instalments::settled.eq(row.settled.amount()),
                instalments::exchange_gain.eq(row.exchange_gain.amount()),
                instalments::kept_by_agency.eq(row.kept_by_agency.amount()),
                instalments::kept_by_bank.eq(row.kept_by_bank.amount()),
                instalments::tax_withheld.eq(row.tax_withheld.amount()),
                instalments::net.eq(row.net.amount()),
                instalments::received_from.eq(row.received_from.as_str()),
                instalments::income_on.eq(row.income_on),
                instalments::received_on.eq(row.received_on),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }
}
