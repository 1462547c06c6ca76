//! Instalments as they are kept, read in one way: those of a deal, and those of a year.

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use crate::rules::ids::DealId;
use crate::rules::money::Currency;
use crate::rules::rows::{Instalment, ReceivedFrom};
use crate::store::books::Tx;
use crate::store::error::StoreError;
use crate::store::schema::{deals, instalments};
use crate::store::{live, money, read_as};

#[derive(Queryable, Selectable)]
#[diesel(table_name = instalments)]
struct InstalmentRow {
    deal_id: Uuid,
    counts: Decimal,
    gross: Decimal,
    settled: Decimal,
    exchange_gain: Decimal,
    kept_by_agency: Decimal,
    kept_by_bank: Decimal,
    tax_withheld: Decimal,
    net: Decimal,
    received_from: String,
    income_on: NaiveDate,
    received_on: NaiveDate,
}

impl InstalmentRow {
    /// `of_deal` is the deal's own currency, `base` the books'.
    fn instalment(self, of_deal: &str, base: Currency) -> Result<Instalment, StoreError> {
        let of_deal = read_as("deals.currency", of_deal, |code| Currency::find(code).ok())?;
        Ok(Instalment {
            deal: DealId(self.deal_id),
            counts: money("instalments.counts", self.counts, of_deal)?,
            gross: money("instalments.gross", self.gross, base)?,
            settled: money("instalments.settled", self.settled, base)?,
            exchange_gain: money("instalments.exchange_gain", self.exchange_gain, base)?,
            kept_by_agency: money("instalments.kept_by_agency", self.kept_by_agency, base)?,
            kept_by_bank: money("instalments.kept_by_bank", self.kept_by_bank, base)?,
            tax_withheld: money("instalments.tax_withheld", self.tax_withheld, base)?,
            net: money("instalments.net", self.net, base)?,
            received_from: read_as("instalments.received_from", &self.received_from, ReceivedFrom::named)?,
            income_on: self.income_on,
            received_on: self.received_on,
        })
    }
}

#[diesel::dsl::auto_type(no_type_alias)]
fn of_its_deal() -> _ {
    let id: diesel::dsl::Eq<deals::id, instalments::deal_id> = deals::id.eq(instalments::deal_id);
    let books: diesel::dsl::Eq<deals::books_id, instalments::books_id> =
        deals::books_id.eq(instalments::books_id);
    books.and(id)
}

impl Tx<'_> {
    /// In the order they were recorded.
    pub(super) async fn instalments_of(&mut self, deal: DealId) -> Result<Vec<Instalment>, StoreError> {
        let rows: Vec<(InstalmentRow, String)> = instalments::table
            .inner_join(deals::table.on(of_its_deal()))
            .filter(instalments::books_id.eq(self.id.0))
            .filter(instalments::deal_id.eq(deal.0))
            .filter(live!(instalments))
            .order(instalments::record_id)
            .select((InstalmentRow::as_select(), deals::currency))
            .load(self.connection)
            .await?;
        let base = self.card().base;
        rows.into_iter().map(|(row, of_deal)| row.instalment(&of_deal, base)).collect()
    }

    /// Those whose income is of these days, whenever the rest of the way took.
    pub(in crate::store) async fn instalments_between(
        &mut self,
        first: NaiveDate,
        last: NaiveDate,
    ) -> Result<Vec<Instalment>, StoreError> {
        let rows: Vec<(InstalmentRow, String)> = instalments::table
            .inner_join(deals::table.on(of_its_deal()))
            .filter(instalments::books_id.eq(self.id.0))
            .filter(instalments::income_on.between(first, last))
            .filter(live!(instalments))
            .order((instalments::income_on, instalments::record_id))
            .select((InstalmentRow::as_select(), deals::currency))
            .load(self.connection)
            .await?;
        let base = self.card().base;
        rows.into_iter().map(|(row, of_deal)| row.instalment(&of_deal, base)).collect()
    }
}
