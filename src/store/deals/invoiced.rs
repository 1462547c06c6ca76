//! Invoices to sponsors, and what was paid of them.

use std::collections::HashMap;

use chrono::NaiveDate;
use diesel::dsl::sum;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use crate::rules::deals::InvoiceFacts;
use crate::rules::ids::RecordId;
use crate::rules::rows::{Deal, Invoice, Settlement};
use crate::store::books::Tx;
use crate::store::error::StoreError;
use crate::store::schema::{invoices, settlements};
use crate::store::{live, money};

type InvoiceRow = (Uuid, NaiveDate, String, Decimal, Option<Decimal>);

impl Tx<'_> {
    pub(in crate::store) async fn add_invoice(
        &mut self,
        record: RecordId,
        row: &Invoice,
    ) -> Result<(), StoreError> {
        diesel::insert_into(invoices::table)
            .values((
                invoices::books_id.eq(self.id.0),
                invoices::record_id.eq(record.0),
                invoices::deal_id.eq(row.deal.0),
                invoices::invoiced_on.eq(row.invoiced_on),
                invoices::what.eq(&row.what),
                invoices::counts.eq(row.counts.amount()),
                invoices::booked.eq(row.booked.map(|booked| booked.amount())),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }

    pub(in crate::store) async fn add_settlement(
        &mut self,
        record: RecordId,
        row: &Settlement,
    ) -> Result<(), StoreError> {
        diesel::insert_into(settlements::table)
            .values((
                settlements::books_id.eq(self.id.0),
                settlements::record_id.eq(record.0),
                settlements::invoice_id.eq(row.invoice.0),
                settlements::counts.eq(row.counts.amount()),
                settlements::booked.eq(row.booked.amount()),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }

    /// The deal's invoices that stand, the earliest first, with what is open of each.
    pub(super) async fn invoices_of(&mut self, deal: &Deal) -> Result<Vec<InvoiceFacts>, StoreError> {
        let rows: Vec<InvoiceRow> = invoices::table
            .filter(invoices::books_id.eq(self.id.0))
            .filter(invoices::deal_id.eq(deal.id.0))
            .filter(live!(invoices))
            .order((invoices::invoiced_on, invoices::record_id))
            .select((
                invoices::record_id,
                invoices::invoiced_on,
                invoices::what,
                invoices::counts,
                invoices::booked,
            ))
            .load(self.connection)
            .await?;
        let ids: Vec<Uuid> = rows.iter().map(|(record, ..)| *record).collect();
        let paid = self.paid_on_invoices(&ids).await?;
        let (of_deal, base) = (deal.agreed.currency(), self.card().base);
        rows.into_iter()
            .map(|(record, invoiced_on, what, counts, booked)| {
                let (paid, off) = paid.get(&record).copied().unwrap_or_default();
                Ok(InvoiceFacts {
                    record: RecordId(record),
                    invoiced_on,
                    what,
                    counts: money("invoices.counts", counts, of_deal)?,
                    open: money("settlements.counts", counts - paid, of_deal)?,
                    open_booked: money("settlements.booked", booked.unwrap_or_default() - off, base)?,
                })
            })
            .collect()
    }

    /// By invoice: what was paid, in the deal's currency, and what it took off the receivable.
    async fn paid_on_invoices(
        &mut self,
        ids: &[Uuid],
    ) -> Result<HashMap<Uuid, (Decimal, Decimal)>, StoreError> {
        let rows: Vec<(Uuid, Option<Decimal>, Option<Decimal>)> = settlements::table
            .filter(settlements::books_id.eq(self.id.0))
            .filter(settlements::invoice_id.eq_any(ids))
            .filter(live!(settlements))
            .group_by(settlements::invoice_id)
            .select((settlements::invoice_id, sum(settlements::counts), sum(settlements::booked)))
            .load(self.connection)
            .await?;
        let sums = rows.into_iter().map(|(invoice, counts, booked)| {
            (invoice, (counts.unwrap_or_default(), booked.unwrap_or_default()))
        });
        Ok(sums.collect())
    }
}
