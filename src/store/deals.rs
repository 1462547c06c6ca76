//! Deals, what was promised, and what came in.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use uuid::Uuid;

use super::books::Tx;
use super::error::StoreError;
use super::schema::{deals, instalments, promises};
use crate::rules::ids::RecordId;
use crate::rules::rows::{Deal, Instalment, Promise};

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
                deals::agreed.eq(row.agreed.amount()),
                deals::paid_before.eq(row.paid_before.amount()),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }

    pub(super) async fn add_promise(&mut self, record: RecordId, row: &Promise) -> Result<(), StoreError> {
        diesel::insert_into(promises::table)
            .values((
                promises::books_id.eq(self.id.0),
                promises::record_id.eq(record.0),
                promises::id.eq(Uuid::now_v7()),
                promises::deal_id.eq(row.deal.0),
                promises::what.eq(&row.what),
                promises::episode_id.eq(row.episode.map(|episode| episode.0)),
                promises::due_on.eq(row.due_on),
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
                instalments::gross.eq(row.gross.amount()),
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
