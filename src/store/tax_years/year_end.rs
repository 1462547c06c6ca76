//! The end of a tax year: what closing it posts, what stands of it, and what it took off each tool.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use diesel::dsl::min;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use crate::rules::books::{Departed, Ending, Journal, WorkedOut, YearEnd, YearEndPosted};
use crate::rules::ids::{RecordId, ToolId};
use crate::rules::journal::Posted;
use crate::rules::money::Money;
use crate::rules::recording::Word;
use crate::rules::refusal::Explain;
use crate::rules::rows::{ChargeKind, PeriodActKind, ToolCharge};
use crate::rules::tax_year::{Profile, TaxFinding, summarise, year_end};
use crate::rules::write_offs::last_day;
use crate::store::books::Tx;
use crate::store::error::{Fault, StoreError};
use crate::store::ledger::{Counted, LedgerDays};
use crate::store::recording::EntryShown;
use crate::store::schema::{entries, postings, records, tool_charges, tool_disposals, tools};
use crate::store::{live, money, read_as};

type ChargeRow = (Option<Uuid>, i32, String, Amounts);

/// Small tools, section 179, depreciation, and what came back.
type Amounts = (Decimal, Decimal, Decimal, Decimal);

/// Which charges are looked at.
enum Only {
    Before(i32),
    OfRecord(RecordId),
    OfOthers { year: i32, than: RecordId },
    OfTools(Vec<Uuid>),
}

/// What a tool was charged and what of it was settled, over all closed years.
#[derive(Clone, Copy, Debug)]
pub struct WrittenOff {
    pub at_once: Money,
    pub accumulated: Money,
}

impl Tx<'_> {
    pub(in crate::store) async fn add_tool_charge(
        &mut self,
        record: RecordId,
        row: &ToolCharge,
    ) -> Result<(), StoreError> {
        diesel::insert_into(tool_charges::table)
            .values((
                tool_charges::books_id.eq(self.id.0),
                tool_charges::id.eq(Uuid::now_v7()),
                tool_charges::record_id.eq(record.0),
                tool_charges::tool_id.eq(row.tool.map(|tool| tool.0)),
                tool_charges::tax_year.eq(row.tax_year),
                tool_charges::kind.eq(row.kind.as_str()),
                tool_charges::small_tool.eq(row.small_tool.amount()),
                tool_charges::section_179.eq(row.section_179.amount()),
                tool_charges::depreciation.eq(row.depreciation.amount()),
                tool_charges::recaptured.eq(row.recaptured.amount()),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }

    /// The day of the earliest entry.
    /// # Errors
    /// What the database could not do.
    pub async fn journal_begins(&mut self) -> Result<Journal, StoreError> {
        let earliest: Option<NaiveDate> = entries::table
            .filter(entries::books_id.eq(self.id.0))
            .select(min(entries::date))
            .first(self.connection)
            .await?;
        Ok(earliest.map_or(Journal::Empty, Journal::Since))
    }

    /// What closing the year that ends would post.
    /// # Errors
    /// What the database could not do.
    pub async fn year_end(&mut self, ending: Ending<i32>) -> Result<Ending<YearEnd>, Fault> {
        let Ending::Year(year) = ending else { return Ok(Ending::PartOfYear) };
        let (worked_out, charges) = self.charges_of(year).await?;
        let departed = self.departed_among(&charges).await?;
        let days = LedgerDays { from: None, to: Some(last_day(year)) };
        let balances = self.account_sums(days, Counted::All).await?;
        let balances = balances.into_iter().map(|sum| (sum.account, sum.amount)).collect();
        Ok(Ending::Year(YearEnd { year, worked_out, charges, departed, balances }))
    }

    async fn charges_of(&mut self, year: i32) -> Result<(WorkedOut, Vec<ToolCharge>), Fault> {
        let profile = match Profile::find(&self.card().tax_profile, year) {
            Ok(profile) => profile,
            Err(none) => return Ok((WorkedOut::No(none.say().detail), Vec::new())),
        };
        let base = self.card().base;
        if base.code() != profile.currency {
            let other = TaxFinding::OtherCurrency { base, asked: profile.currency };
            return Ok((WorkedOut::No(other.say().detail), Vec::new()));
        }
        let facts = self.year_facts(profile).await?;
        let summary = summarise(&facts)?;
        let earlier = self.charges(Only::Before(year)).await?;
        Ok((WorkedOut::Yes, year_end::charges(&facts, &summary, &earlier)?))
    }

    async fn departed_among(&mut self, charges: &[ToolCharge]) -> Result<Vec<Departed>, StoreError> {
        let charged = |tool| charges.iter().any(|charge| charge.tool == Some(tool));
        let tools = self.all_tools().await?.into_iter().filter(|(tool, _)| charged(tool.id));
        Ok(tools
            .filter_map(|(tool, gone)| {
                let gone = gone?;
                Some(Departed { tool: tool.id, name: tool.name, date: gone.date, kind: gone.kind })
            })
            .collect())
    }

    /// What stands in the journal of the ends of `first` and later years.
    /// # Errors
    /// What the database could not do.
    pub async fn year_ends_since(&mut self, first: i32) -> Result<Vec<YearEndPosted>, StoreError> {
        let of_entry =
            postings::books_id.eq(entries::books_id).and(postings::entry_number.eq(entries::number));
        let of_record = records::books_id.eq(entries::books_id).and(records::id.eq(entries::record_id));
        let closings: Vec<(Uuid, i32)> = entries::table
            .inner_join(postings::table.on(of_entry))
            .inner_join(records::table.on(of_record))
            .filter(entries::books_id.eq(self.id.0))
            .filter(records::word.eq(Word::Books.as_str()))
            .filter(records::kind.eq(PeriodActKind::Closed.as_str()))
            .filter(postings::tax_year.ge(first))
            .filter(live!(entries))
            .select((entries::record_id, postings::tax_year))
            .distinct()
            .order((postings::tax_year, entries::record_id))
            .load(self.connection)
            .await?;
        let mut ends = Vec::with_capacity(closings.len());
        for (closing, year) in closings {
            let closing = RecordId(closing);
            let entries = self.entries_of(closing).await?.into_iter().filter_map(|shown| {
                let EntryShown { number, date, postings, .. } = shown;
                number.map(|number| Posted { number, date, postings })
            });
            ends.push(YearEndPosted {
                year,
                closing,
                entries: entries.collect(),
                charges: self.charges(Only::OfRecord(closing)).await?,
                corrections: self.charges(Only::OfOthers { year, than: closing }).await?,
            });
        }
        Ok(ends)
    }

    /// What closed years wrote off of a tool, net of what was settled when it was gone.
    pub(in crate::store) async fn written_off(&mut self, tool: ToolId) -> Result<WrittenOff, StoreError> {
        let (mut at_once, mut accumulated) = (Decimal::ZERO, Decimal::ZERO);
        for charge in self.charges(Only::OfTools(vec![tool.0])).await? {
            let charge = match charge.kind {
                ChargeKind::Charged => charge,
                ChargeKind::SettledBySale | ChargeKind::SettledByDraw => charge.negated(),
            };
            at_once += charge.small_tool.amount();
            accumulated +=
                charge.section_179.amount() + charge.depreciation.amount() - charge.recaptured.amount();
        }
        let base = self.card().base;
        Ok(WrittenOff {
            at_once: money("tool_charges.small_tool", at_once, base)?,
            accumulated: money("tool_charges.depreciation", accumulated, base)?,
        })
    }

    /// What closed years wrote off of the tools that a record brought, and settled of those it let go.
    pub(in crate::store) async fn written_off_by(
        &mut self,
        record: RecordId,
    ) -> Result<Vec<ToolCharge>, StoreError> {
        let brought: Vec<Uuid> = tools::table
            .filter(tools::books_id.eq(self.id.0))
            .filter(tools::record_id.eq(record.0))
            .select(tools::id)
            .load(self.connection)
            .await?;
        let let_go: Vec<Uuid> = tool_disposals::table
            .filter(tool_disposals::books_id.eq(self.id.0))
            .filter(tool_disposals::record_id.eq(record.0))
            .select(tool_disposals::tool_id)
            .load(self.connection)
            .await?;
        let mut found = Vec::new();
        for (tools, settled) in [(brought, false), (let_go, true)] {
            if !tools.is_empty() {
                let of_tools = self.charges(Only::OfTools(tools)).await?;
                found.extend(of_tools.into_iter().filter(|one| (one.kind != ChargeKind::Charged) == settled));
            }
        }
        Ok(found)
    }

    /// The net of what was charged and settled, by tool, year and kind; what came to nothing is left out.
    async fn charges(&mut self, only: Only) -> Result<Vec<ToolCharge>, StoreError> {
        let query = tool_charges::table
            .filter(tool_charges::books_id.eq(self.id.0))
            .order(tool_charges::id)
            .select((
                tool_charges::tool_id,
                tool_charges::tax_year,
                tool_charges::kind,
                (
                    tool_charges::small_tool,
                    tool_charges::section_179,
                    tool_charges::depreciation,
                    tool_charges::recaptured,
                ),
            ))
            .into_boxed();
        let rows: Vec<ChargeRow> = match only {
            Only::Before(year) => query.filter(tool_charges::tax_year.lt(year)),
            Only::OfRecord(record) => query.filter(tool_charges::record_id.eq(record.0)),
            Only::OfOthers { year, than } => {
                query.filter(tool_charges::tax_year.eq(year)).filter(tool_charges::record_id.ne(than.0))
            }
            Only::OfTools(tools) => query.filter(tool_charges::tool_id.eq_any(tools)),
        }
        .load(self.connection)
        .await?;
        let mut nets: BTreeMap<(i32, Option<Uuid>, String), [Decimal; 4]> = BTreeMap::new();
        for (tool, year, kind, (at_once, allowed, yearly, back)) in rows {
            let amounts = [at_once, allowed, yearly, back];
            let net = nets.entry((year, tool, kind)).or_default();
            for (sum, amount) in net.iter_mut().zip(amounts) {
                *sum += amount;
            }
        }
        let base = self.card().base;
        let mut charges = Vec::with_capacity(nets.len());
        for ((tax_year, tool, kind), [small_tool, section_179, depreciation, recaptured]) in nets {
            charges.push(ToolCharge {
                tool: tool.map(ToolId),
                tax_year,
                kind: read_as("tool_charges.kind", &kind, ChargeKind::named)?,
                small_tool: money("tool_charges.small_tool", small_tool, base)?,
                section_179: money("tool_charges.section_179", section_179, base)?,
                depreciation: money("tool_charges.depreciation", depreciation, base)?,
                recaptured: money("tool_charges.recaptured", recaptured, base)?,
            });
        }
        charges.retain(|charge| !charge.is_nothing());
        Ok(charges)
    }
}
