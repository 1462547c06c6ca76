//! Payouts: platform statements.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;

use super::books::Tx;
use super::error::StoreError;
use super::schema::payouts;
use crate::rules::ids::RecordId;
use crate::rules::rows::Payout;

impl Tx<'_> {
    pub(super) async fn add_payout(&mut self, record: RecordId, row: &Payout) -> Result<(), StoreError> {
        diesel::insert_into(payouts::table)
            .values((
                payouts::books_id.eq(self.id.0),
                payouts::record_id.eq(record.0),
                payouts::platform_id.eq(row.platform.0),
                payouts::account_id.eq(row.account.0),
                payouts::income_on.eq(row.income_on),
                payouts::received_on.eq(row.received_on),
                payouts::gross.eq(row.gross.amount()),
                payouts::fees.eq(row.fees.amount()),
                payouts::tax_withheld.eq(row.tax_withheld.amount()),
                payouts::reserve_held.eq(row.reserve_held.amount()),
                payouts::reserve_released.eq(row.reserve_released.amount()),
                payouts::adjustments.eq(row.adjustments.amount()),
                payouts::net.eq(row.net.amount()),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }
}
