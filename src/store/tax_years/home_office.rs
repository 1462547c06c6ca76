//! Home offices by the simplified method.

use chrono::NaiveDate;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use rust_decimal::Decimal;
use uuid::Uuid;

use super::Days;
use crate::rules::ids::RecordId;
use crate::rules::journal::TaxClass;
use crate::rules::money::Money;
use crate::rules::refusal::Refusal;
use crate::rules::rows::{HomeOffice, HomeOfficeArea};
use crate::rules::tax_year::facts::HomeOfficeStated;
use crate::rules::tax_year::home_office::HomeOfficeFacts;
use crate::store::books::Tx;
use crate::store::error::{Fault, StoreError};
use crate::store::live;
use crate::store::recording::ordinal;
use crate::store::schema::{home_office_areas, home_offices};

impl Tx<'_> {
    pub(in crate::store) async fn add_home_office(
        &mut self,
        record: RecordId,
        row: &HomeOffice,
    ) -> Result<(), StoreError> {
        diesel::insert_into(home_offices::table)
            .values((
                home_offices::books_id.eq(self.id.0),
                home_offices::record_id.eq(record.0),
                home_offices::tax_year.eq(row.tax_year),
            ))
            .execute(self.connection)
            .await?;
        let areas: Vec<_> = row
            .areas
            .iter()
            .enumerate()
            .map(|(place, area)| {
                (
                    home_office_areas::books_id.eq(self.id.0),
                    home_office_areas::record_id.eq(record.0),
                    home_office_areas::place.eq(ordinal(place)),
                    home_office_areas::from_date.eq(area.from),
                    home_office_areas::until_date.eq(area.until),
                    home_office_areas::square_feet.eq(area.square_feet),
                )
            })
            .collect();
        diesel::insert_into(home_office_areas::table).values(areas).execute(self.connection).await?;
        Ok(())
    }

    /// The home office that stands for the year.
    pub(super) async fn home_office(&mut self, year: i32) -> Result<Option<HomeOfficeStated>, StoreError> {
        let found: Option<Uuid> = home_offices::table
            .filter(home_offices::books_id.eq(self.id.0))
            .filter(home_offices::tax_year.eq(year))
            .filter(live!(home_offices))
            .select(home_offices::record_id)
            .first(self.connection)
            .await
            .optional()?;
        let Some(record) = found else { return Ok(None) };
        let rows: Vec<(NaiveDate, Option<NaiveDate>, Decimal)> = home_office_areas::table
            .filter(home_office_areas::books_id.eq(self.id.0))
            .filter(home_office_areas::record_id.eq(record))
            .order(home_office_areas::place)
            .select((
                home_office_areas::from_date,
                home_office_areas::until_date,
                home_office_areas::square_feet,
            ))
            .load(self.connection)
            .await?;
        let areas =
            rows.into_iter().map(|(from, until, square_feet)| HomeOfficeArea { from, until, square_feet });
        let office = HomeOffice { tax_year: year, areas: areas.collect() };
        Ok(Some(HomeOfficeStated { record: RecordId(record), office }))
    }

    /// What recording a year's home office is decided on.
    /// # Errors
    /// What the database could not do.
    pub async fn home_office_facts(&mut self, year: i32) -> Result<HomeOfficeFacts, Fault> {
        let recorded = self.home_office(year).await?.map(|stated| stated.record);
        let sums = self.posting_sums(Days::of(year)).await?;
        let actual = sums.iter().filter(|sum| sum.class == Some(TaxClass::HomeOffice)).map(|sum| sum.amount);
        Ok(HomeOfficeFacts {
            recorded,
            actual_costs: Money::sum(self.card().base, actual).map_err(Refusal::from)?,
        })
    }
}
