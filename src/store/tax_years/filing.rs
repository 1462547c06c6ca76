//! Returns that were filed, and what was recorded since.

use std::collections::HashMap;

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel::sql_query;
use diesel::sql_types::{Date, Integer, Nullable, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use super::Days;
use crate::rules::ids::RecordId;
use crate::rules::journal::EntryKind;
use crate::rules::rows::{FiledLine, Filing};
use crate::rules::tax_year::amended::EntrySince;
use crate::rules::tax_year::facts::{FiledYear, RecordNamed, RecordSince};
use crate::store::books::Tx;
use crate::store::entries::JournalFilter;
use crate::store::error::StoreError;
use crate::store::recording::ordinal;
use crate::store::schema::{filed_lines, filings, record_reversals, records};
use crate::store::{live, read_as};

/// What carries the year: postings of it, what is stated for it, and what has a tax effect without an entry and is
/// of one of its days; and what takes such records back. Ids of records are given in the order of time.
const SINCE: &str = "\
WITH carries AS (
    SELECT r.id FROM records r
    WHERE r.books_id = $1 AND r.word IN ('gifts', 'furniture', 'trips', 'openings', 'materials')
    AND r.date BETWEEN $4 AND $5
    AND NOT EXISTS (SELECT FROM entries e WHERE e.books_id = $1 AND e.record_id = r.id)
    UNION SELECT record_id FROM tax_year_elections WHERE books_id = $1 AND tax_year = $3
    UNION SELECT record_id FROM tool_business_shares WHERE books_id = $1 AND tax_year = $3
    UNION SELECT record_id FROM home_offices WHERE books_id = $1 AND tax_year = $3
    UNION SELECT record_id FROM carry_overs WHERE books_id = $1 AND tax_year = $3
)
SELECT r.id, r.word, r.kind, r.date, r.text, x.reversal_id AS taken_back_by
FROM records r
LEFT JOIN record_reversals x ON x.books_id = r.books_id AND x.record_id = r.id
WHERE r.books_id = $1 AND r.id > $2 AND (
    r.id IN (SELECT id FROM carries)
    OR EXISTS (SELECT FROM record_reversals t JOIN carries c ON c.id = t.record_id
               WHERE t.books_id = $1 AND t.reversal_id = r.id)
    OR EXISTS (SELECT FROM entries e JOIN postings p ON p.books_id = e.books_id AND p.entry_number = e.number
               WHERE e.books_id = $1 AND e.record_id = r.id AND p.tax_year = $3)
)
ORDER BY r.id";

#[derive(QueryableByName)]
struct SinceRow {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Text)]
    word: String,
    #[diesel(sql_type = Text)]
    kind: String,
    #[diesel(sql_type = Date)]
    date: NaiveDate,
    #[diesel(sql_type = Text)]
    text: String,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    taken_back_by: Option<Uuid>,
}

/// How many entries are asked for at a time.
const PAGE: i64 = 500;

impl Tx<'_> {
    pub(in crate::store) async fn add_filing(
        &mut self,
        record: RecordId,
        row: &Filing,
    ) -> Result<(), StoreError> {
        diesel::insert_into(filings::table)
            .values((
                filings::books_id.eq(self.id.0),
                filings::record_id.eq(record.0),
                filings::tax_year.eq(row.tax_year),
                filings::filed_on.eq(row.filed_on),
                filings::head_number.eq(row.head_number),
            ))
            .execute(self.connection)
            .await?;
        let lines: Vec<_> = row
            .lines
            .iter()
            .enumerate()
            .map(|(place, line)| {
                (
                    filed_lines::books_id.eq(self.id.0),
                    filed_lines::record_id.eq(record.0),
                    filed_lines::place.eq(ordinal(place)),
                    filed_lines::part.eq(&line.part),
                    filed_lines::line.eq(&line.line),
                    filed_lines::label.eq(&line.label),
                    filed_lines::exact.eq(line.exact),
                    filed_lines::whole.eq(line.whole),
                )
            })
            .collect();
        diesel::insert_into(filed_lines::table).values(lines).execute(self.connection).await?;
        Ok(())
    }

    /// The last filing of the year that stands.
    pub(super) async fn filed_year(&mut self, days: Days) -> Result<Option<FiledYear>, StoreError> {
        let found: Vec<(Uuid, NaiveDate, i64)> = filings::table
            .filter(filings::books_id.eq(self.id.0))
            .filter(filings::tax_year.eq(days.year))
            .filter(live!(filings))
            .order((filings::filed_on, filings::record_id))
            .select((filings::record_id, filings::filed_on, filings::head_number))
            .load(self.connection)
            .await?;
        let times = found.len();
        let Some((record, filed_on, head_number)) = found.into_iter().next_back() else { return Ok(None) };
        type Line = (String, String, String, Option<Decimal>, Option<Decimal>);
        let lines: Vec<Line> = filed_lines::table
            .filter(filed_lines::books_id.eq(self.id.0))
            .filter(filed_lines::record_id.eq(record))
            .order(filed_lines::place)
            .select((
                filed_lines::part,
                filed_lines::line,
                filed_lines::label,
                filed_lines::exact,
                filed_lines::whole,
            ))
            .load(self.connection)
            .await?;
        let line = |(part, line, label, exact, whole)| FiledLine { part, line, label, exact, whole };
        Ok(Some(FiledYear {
            record: RecordId(record),
            filed_on,
            head_number,
            times,
            lines: lines.into_iter().map(line).collect(),
            since: self.records_since(days, record).await?,
        }))
    }

    async fn records_since(&mut self, days: Days, filing: Uuid) -> Result<Vec<RecordSince>, StoreError> {
        let rows: Vec<SinceRow> = sql_query(SINCE)
            .bind::<SqlUuid, _>(self.id.0)
            .bind::<SqlUuid, _>(filing)
            .bind::<Integer, _>(days.year)
            .bind::<Date, _>(days.first)
            .bind::<Date, _>(days.last)
            .load(self.connection)
            .await?;
        let ids: Vec<Uuid> = rows.iter().map(|row| row.id).collect();
        let mut originals = self.taken_back_by(&ids).await?;
        let since = rows.into_iter().map(|row| RecordSince {
            record: RecordId(row.id),
            word: row.word,
            kind: row.kind,
            date: row.date,
            text: row.text,
            takes_back: originals.remove(&row.id).unwrap_or_default(),
            taken_back_by: row.taken_back_by.map(RecordId),
        });
        Ok(since.collect())
    }

    /// The records that those took back.
    async fn taken_back_by(&mut self, ids: &[Uuid]) -> Result<HashMap<Uuid, Vec<RecordNamed>>, StoreError> {
        let of_record =
            records::books_id.eq(record_reversals::books_id).and(records::id.eq(record_reversals::record_id));
        let rows: Vec<(Uuid, Uuid, NaiveDate, String)> = record_reversals::table
            .inner_join(records::table.on(of_record))
            .filter(record_reversals::books_id.eq(self.id.0))
            .filter(record_reversals::reversal_id.eq_any(ids))
            .order((record_reversals::reversal_id, records::id))
            .select((record_reversals::reversal_id, records::id, records::date, records::text))
            .load(self.connection)
            .await?;
        let mut originals: HashMap<Uuid, Vec<RecordNamed>> = HashMap::new();
        for (reversal, record, date, text) in rows {
            let named = RecordNamed { record: RecordId(record), date, text };
            originals.entry(reversal).or_default().push(named);
        }
        Ok(originals)
    }

    /// The entries after `head` with a posting of the year.
    /// # Errors
    /// What the database could not do.
    pub async fn entries_since(&mut self, year: i32, head: i64) -> Result<Vec<EntrySince>, StoreError> {
        let filter = JournalFilter { tax_year: Some(year), ..JournalFilter::default() };
        let mut since = Vec::new();
        let mut after = head;
        loop {
            let page = self.entries(&filter, Some(after), PAGE).await?;
            let Some(last) = page.last() else { return Ok(since) };
            after = last.number;
            for listed in page {
                let entry = listed.entry;
                since.push(EntrySince {
                    number: listed.number,
                    record: listed.record,
                    date: entry.date,
                    kind: read_as("entries.kind", entry.kind, EntryKind::named)?,
                    text: entry.text,
                    reverses: entry.reverses,
                    postings: entry.postings,
                });
            }
        }
    }
}
