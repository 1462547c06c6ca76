//! Purchases: the lines of receipts.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;

use super::books::Tx;
use super::error::StoreError;
use super::recording::ordinal;
use super::schema::{purchase_line_treatments, purchase_lines};
use crate::rules::ids::RecordId;
use crate::rules::rows::PurchaseLine;

impl Tx<'_> {
    pub(super) async fn add_purchase_line(
        &mut self,
        record: RecordId,
        row: &PurchaseLine,
    ) -> Result<(), StoreError> {
        let position = ordinal(row.position);
        diesel::insert_into(purchase_lines::table)
            .values((
                purchase_lines::books_id.eq(self.id.0),
                purchase_lines::record_id.eq(record.0),
                purchase_lines::position.eq(position),
                purchase_lines::text.eq(&row.text),
                purchase_lines::source_id.eq(row.source.0),
                purchase_lines::amount.eq(row.amount.amount()),
            ))
            .execute(self.connection)
            .await?;
        let treatments: Vec<_> = row
            .treatments
            .iter()
            .enumerate()
            .map(|(place, (treatment, amount))| {
                (
                    purchase_line_treatments::books_id.eq(self.id.0),
                    purchase_line_treatments::record_id.eq(record.0),
                    purchase_line_treatments::position.eq(position),
                    purchase_line_treatments::place.eq(ordinal(place)),
                    purchase_line_treatments::treatment.eq(treatment.code()),
                    purchase_line_treatments::amount.eq(amount.amount()),
                )
            })
            .collect();
        diesel::insert_into(purchase_line_treatments::table)
            .values(treatments)
            .execute(self.connection)
            .await?;
        Ok(())
    }
}
