//! The journal as it is stored: entries with their postings, links of reversals, acts of closing.

use std::collections::{BTreeMap, HashMap};

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use super::Doubts;
use crate::rules::chain::{Form, Hash, SealedEntry};
use crate::rules::ids::RecordId;
use crate::rules::journal::{Account, EntryKind, Posting, TaxClass};
use crate::rules::rows::PeriodActKind;
use crate::rules::verify::{ReversalLink, StoredPeriodAct};
use crate::store::books::Tx;
use crate::store::error::StoreError;
use crate::store::schema::{entries, period_acts, postings};

impl Tx<'_> {
    pub(super) async fn sealed_entries(
        &mut self,
        doubts: &mut Doubts,
    ) -> Result<Vec<SealedEntry>, StoreError> {
        type Row = (i64, NaiveDate, String, String, Uuid, Option<i64>, Vec<u8>, i32);
        let mut lines = self.stored_postings(doubts).await?;
        let rows: Vec<Row> = entries::table
            .filter(entries::books_id.eq(self.id.0))
            .order(entries::number)
            .select((
                entries::number,
                entries::date,
                entries::kind,
                entries::text,
                entries::record_id,
                entries::reverses,
                entries::hash,
                entries::form,
            ))
            .load(self.connection)
            .await?;
        let mut sealed = Vec::with_capacity(rows.len());
        for (number, date, kind, text, record, reverses, hash, form) in rows {
            let postings = lines.remove(&number).unwrap_or_default();
            let kind = doubts.named(Some(number), "entry", ("kind", &kind), EntryKind::named);
            let hash = Hash::of_bytes(&hash).ok();
            if hash.is_none() {
                doubts.tell(Some(number), "entry", "its hash is not 32 bytes long".to_owned());
            }
            let form =
                doubts.named(Some(number), "entry", ("form", &form.to_string()), |_| Form::numbered(form));
            if let (Some(form), Some(kind), Some(hash)) = (form, kind, hash) {
                let record = RecordId(record);
                sealed.push(SealedEntry { form, number, date, kind, text, record, reverses, postings, hash });
            }
        }
        for (number, left) in lines {
            let what = format!("{} postings of this entry stand there, and the entry is missing", left.len());
            doubts.tell(Some(number), "postings", what);
        }
        Ok(sealed)
    }

    async fn stored_postings(
        &mut self,
        doubts: &mut Doubts,
    ) -> Result<BTreeMap<i64, Vec<Posting>>, StoreError> {
        type Row = (i64, i32, String, Decimal, Option<String>, i32);
        let rows: Vec<Row> = postings::table
            .filter(postings::books_id.eq(self.id.0))
            .order((postings::entry_number, postings::line))
            .select((
                postings::entry_number,
                postings::line,
                postings::account,
                postings::amount,
                postings::tax_class,
                postings::tax_year,
            ))
            .load(self.connection)
            .await?;
        let mut found: BTreeMap<i64, Vec<Posting>> = BTreeMap::new();
        for (number, line, account, amount, class, tax_year) in rows {
            let row = format!("line {}", line.saturating_add(1));
            let entry = Some(number);
            let account = doubts.named(entry, &row, ("account", &account), Account::of_code);
            let amount = doubts.money(entry, &row, amount);
            let class = match class {
                Some(class) => doubts.named(entry, &row, ("tax class", &class), TaxClass::named).map(Some),
                None => Some(None),
            };
            let of_entry = found.entry(number).or_default();
            if let (Some(account), Some(amount), Some(class)) = (account, amount, class) {
                of_entry.push(Posting { account, amount, class, tax_year });
            }
        }
        Ok(found)
    }

    pub(super) async fn stored_period_acts(
        &mut self,
        doubts: &mut Doubts,
    ) -> Result<Vec<StoredPeriodAct>, StoreError> {
        let rows: Vec<(Uuid, String, NaiveDate, i64)> = period_acts::table
            .filter(period_acts::books_id.eq(self.id.0))
            .order((period_acts::after_number, period_acts::record_id))
            .select((
                period_acts::record_id,
                period_acts::kind,
                period_acts::closed_through,
                period_acts::after_number,
            ))
            .load(self.connection)
            .await?;
        let mut acts = Vec::with_capacity(rows.len());
        for (record, kind, closed_through, after) in rows {
            let row = format!("period act {record}");
            if let Some(kind) = doubts.named(None, &row, ("kind", &kind), PeriodActKind::named) {
                acts.push(StoredPeriodAct { kind, closed_through, after: Some(after) });
            }
        }
        Ok(acts)
    }
}

/// From the records' own links: for each entry of a record that was taken back, the entry of the other record
/// that should take it back. Where none does, the other record's first entry stands for it, or none at all, zero.
pub(super) fn reversal_links(entries: &[SealedEntry], pairs: &[(Uuid, Uuid)]) -> Vec<ReversalLink> {
    let mut by_record: HashMap<Uuid, Vec<&SealedEntry>> = HashMap::new();
    for entry in entries {
        by_record.entry(entry.record.0).or_default().push(entry);
    }
    let entries_of = |record: &Uuid| by_record.get(record).map(Vec::as_slice).unwrap_or_default();
    let mut links = Vec::new();
    for (record, reversal) in pairs {
        let taking = entries_of(reversal);
        for entry in entries_of(record) {
            let fits = taking.iter().find(|one| one.reverses == Some(entry.number));
            let reversed_by = fits.or(taking.first()).map_or(0, |one| one.number);
            links.push(ReversalLink { entry: entry.number, reversed_by });
        }
    }
    links
}
