//! Tax years: recorded choices, the days that are closed, and all that a year's summary is made from.

mod filing;
mod home;
mod home_office;
mod journal;
mod parties;
mod payees;
mod things;
mod tools;
mod year_end;

use std::collections::HashMap;

use chrono::{Datelike, NaiveDate};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;

use super::books::Tx;
use super::error::{Fault, StoreError};
use super::ledger::LedgerDays;
use super::schema::{carry_overs, period_acts, records, tax_year_elections};
use super::{live, money, read_as};
use crate::rules::ids::{RecordId, ToolId};
use crate::rules::money::Money;
use crate::rules::refusal::Refusal;
use crate::rules::rows::{BusinessShare, CarryOver, Election, ElectionKind, PeriodAct, RecoveryClass};
use crate::rules::tax_year::facts::{ToolFacts, ToolRepairs};
use crate::rules::tax_year::{Profile, YearFacts, summarise};

/// The first and the last day of a tax year, which is the calendar's.
#[derive(Clone, Copy, Debug)]
struct Days {
    year: i32,
    first: NaiveDate,
    last: NaiveDate,
}

impl Days {
    fn of(year: i32) -> Self {
        let day = |month, day| NaiveDate::from_ymd_opt(year, month, day).unwrap_or_default();
        Self { year, first: day(1, 1), last: day(12, 31) }
    }
}

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

    /// The choices that stand, of all years, in the order of years.
    /// # Errors
    /// What the database could not do.
    pub async fn elections(&mut self) -> Result<Vec<Election>, StoreError> {
        let rows: Vec<(i32, String, Option<String>)> = tax_year_elections::table
            .filter(tax_year_elections::books_id.eq(self.id.0))
            .filter(live!(tax_year_elections))
            .order((tax_year_elections::tax_year, tax_year_elections::record_id))
            .select((
                tax_year_elections::tax_year,
                tax_year_elections::kind,
                tax_year_elections::recovery_class,
            ))
            .load(self.connection)
            .await?;
        rows.into_iter()
            .map(|(tax_year, kind, class)| {
                let kind = read_as("tax_year_elections.kind", &kind, ElectionKind::named)?;
                let class = class
                    .map(|class| read_as("tax_year_elections.recovery_class", &class, RecoveryClass::named));
                Ok(Election { tax_year, kind, class: class.transpose()? })
            })
            .collect()
    }

    /// Everything the summary of a year is made from, by the profile of the books' jurisdiction.
    /// # Errors
    /// [`TaxFinding::NoProfile`](crate::rules::tax_year::TaxFinding::NoProfile); what the database could not do;
    /// what an earlier year's own summary could not be made for.
    pub async fn facts_of_year(&mut self, year: i32) -> Result<YearFacts, Fault> {
        let profile = Profile::find(&self.card().tax_profile, year).map_err(Fault::of)?;
        self.year_facts(profile).await
    }

    /// Everything the summary of the profile's year is made from.
    /// # Errors
    /// What the database could not do; what an earlier year's own summary could not be made for.
    pub(super) async fn year_facts(&mut self, profile: &'static Profile) -> Result<YearFacts, Fault> {
        let brought_forward = self.section_179_brought_forward(profile).await?;
        self.facts_of(profile, brought_forward).await
    }

    /// What was carried over before the books and by their earlier years: each year's summary says what goes to the
    /// next.
    async fn section_179_brought_forward(&mut self, profile: &'static Profile) -> Result<Money, Fault> {
        let mut carried = Money::zero(self.card().base);
        let before = self.carry_over().await?.filter(|(_, before)| before.tax_year <= profile.year);
        if let Some((_, before)) = before {
            carried = before.amount;
        }
        let began = self.card().began_on.year();
        let elected = self.all_tools().await?.into_iter().filter(|(tool, _)| tool.section_179.is_positive());
        let elected = elected.map(|(tool, _)| tool.in_service_on.year()).filter(|year| *year >= began);
        let first = elected.chain(before.map(|(_, before)| before.tax_year)).min();
        for year in first.unwrap_or(profile.year)..profile.year {
            if let Ok(earlier) = Profile::find(profile.jurisdiction, year) {
                let facts = self.facts_of(earlier, carried).await?;
                carried = summarise(&facts)?.section_179.carried_over;
            }
        }
        Ok(carried)
    }

    async fn facts_of(
        &mut self,
        profile: &'static Profile,
        section_179_brought_forward: Money,
    ) -> Result<YearFacts, Fault> {
        let days = Days::of(profile.year);
        let tools = self.tools_of_years().await?;
        let marks = self.marks_of_year(days).await?;
        Ok(YearFacts {
            profile,
            books: self.card().facts(),
            first_year: self.card().began_on.year(),
            opening: marks.opening,
            postings: self.posting_sums(days).await?,
            stock: self.stock_balances(days).await?,
            tools,
            repairs: self.repairs_of_year(days).await?,
            elections: self.elections().await?,
            section_179_brought_forward,
            trips: self.trips_of_year(days).await?,
            gifts: self.gifts_of_year(days).await?,
            piece_sales: self.piece_sales_of_year(days).await?,
            refunds: self.refunds_of_year(days).await?,
            pieces_left: self.pieces_left_in_year(days).await?,
            payouts: self.payouts_of_year(days).await?,
            instalments: self.instalments_between(days.first, days.last).await?,
            receivables: self.receivables_of_year(days).await?,
            foreign_accounts: self.foreign_accounts(days).await?,
            home: self.home_costs(days).await?,
            home_office: self.home_office(days.year).await?,
            filed: self.filed_year(days).await?,
            counted_on: marks.counted_on,
            purchases_without_document: marks.purchases,
            family: self.family_payments(days).await?,
            paid_to: self.paid_to_parties(days).await?,
        })
    }

    /// What repairs of the year cost, tool by tool.
    async fn repairs_of_year(&mut self, days: Days) -> Result<Vec<ToolRepairs>, Fault> {
        let mut repairs: Vec<ToolRepairs> = Vec::new();
        let within = LedgerDays { from: Some(days.first), to: Some(days.last) };
        for (tool, repaired) in self.repairs_within(within).await? {
            match repairs.iter_mut().find(|one| one.tool == tool) {
                Some(one) => one.amount = one.amount.plus(repaired.amount).map_err(Refusal::from)?,
                None => repairs.push(ToolRepairs { tool, amount: repaired.amount }),
            }
        }
        Ok(repairs)
    }

    /// Every tool with what was stated of its use.
    async fn tools_of_years(&mut self) -> Result<Vec<ToolFacts>, StoreError> {
        let mut stated: HashMap<ToolId, Vec<BusinessShare>> = HashMap::new();
        for logged in self.business_shares(None).await? {
            stated.entry(logged.row.tool).or_default().push(logged.row);
        }
        let tools = self.all_tools().await?.into_iter().map(|(tool, disposal)| {
            let shares = stated.remove(&tool.id).unwrap_or_default();
            ToolFacts { tool, shares, disposal }
        });
        Ok(tools.collect())
    }

    pub(super) async fn add_carry_over(
        &mut self,
        record: RecordId,
        row: &CarryOver,
    ) -> Result<(), StoreError> {
        diesel::insert_into(carry_overs::table)
            .values((
                carry_overs::books_id.eq(self.id.0),
                carry_overs::record_id.eq(record.0),
                carry_overs::tax_year.eq(row.tax_year),
                carry_overs::amount.eq(row.amount.amount()),
            ))
            .execute(self.connection)
            .await?;
        Ok(())
    }

    /// The carry-over that stands from before the books, with the day it was stated for.
    /// # Errors
    /// What the database could not do.
    pub async fn carry_over(&mut self) -> Result<Option<(NaiveDate, CarryOver)>, StoreError> {
        let of_record =
            records::books_id.eq(carry_overs::books_id).and(records::id.eq(carry_overs::record_id));
        let row: Option<(NaiveDate, i32, Decimal)> = carry_overs::table
            .inner_join(records::table.on(of_record))
            .filter(carry_overs::books_id.eq(self.id.0))
            .filter(live!(carry_overs))
            .select((records::date, carry_overs::tax_year, carry_overs::amount))
            .first(self.connection)
            .await
            .optional()?;
        let base = self.card().base;
        row.map(|(date, tax_year, amount)| {
            Ok((date, CarryOver { tax_year, amount: money("carry_overs.amount", amount, base)? }))
        })
        .transpose()
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
                period_acts::after_number.eq(self.card().head.number),
            ))
            .execute(self.connection)
            .await?;
        self.set_closed_through(row.closed_through).await
    }
}
