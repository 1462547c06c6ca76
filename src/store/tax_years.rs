//! Tax years: recorded choices, and the days that are closed.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;

use super::books::Tx;
use super::error::StoreError;
use super::schema::{period_acts, tax_year_elections};
use crate::rules::ids::RecordId;
use crate::rules::rows::{Election, PeriodAct};

impl Tx<'_> {
    pub(super) async fn add_election(&mut self, record: RecordId, row: &Election) -> Result<(), StoreError> {
        diesel::insert_into(tax_year_elections::table)
            .values((
                tax_year_elections::books_id.eq(self.id.0),
                tax_year_elections::record_id.eq(record.0),
                tax_year_elections::tax_year.eq(row.tax_year),
                tax_year_elections::kind.eq(row.kind.as_str()),
                tax_year_elections::recovery_class.eq(row.class.map(|class| class.as_str())),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }

    pub(super) async fn add_period_act(
        &mut self,
        record: RecordId,
        row: &PeriodAct,
    ) -> Result<(), StoreError> {
        diesel::insert_into(period_acts::table)
            .values((
                period_acts::books_id.eq(self.id.0),
                period_acts::record_id.eq(record.0),
                period_acts::kind.eq(row.kind.as_str()),
                period_acts::closed_through.eq(row.closed_through),
                period_acts::reason.eq(&row.reason),
                period_acts::after_number.eq(self.card().head_number),
            ))
            .execute(self.connection)
            .await?;
        self.set_closed_through(row.closed_through).await
    }
}
