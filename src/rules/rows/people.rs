//! Who and what the business works with and on: accounts, parties, projects, episodes, hours and miles.

use chrono::NaiveDate;
use rust_decimal::Decimal;

use super::Target;
use crate::rules::ids::{EpisodeId, MoneyAccountId, PartyId, ProjectId};
use crate::rules::money::{Currency, Money};
use crate::rules::named::named;
use crate::rules::recording::{Category, MoneyAccountKind};

#[derive(Clone, Debug)]
pub struct MoneyAccountRow {
    pub id: MoneyAccountId,
    pub name: String,
    pub kind: MoneyAccountKind,
    pub currency: Currency,
}

named! {
    /// What a party is to the business.
    pub enum PartyRole {
        Vendor => "vendor",
        Sponsor => "sponsor",
        Platform => "platform",
        Helper => "helper",
        Buyer => "buyer",
        Agency => "agency",
        Family => "family",
        Other => "other",
    }
}

#[derive(Clone, Debug)]
pub struct Party {
    pub id: PartyId,
    pub name: String,
    pub role: PartyRole,
}

named! {
    /// Where a project takes place; it decides what a cost left in the room is to the tax office.
    pub enum Place {
        OwnHome => "own_home",
        HomeOffice => "home_office",
        RentedStudio => "rented_studio",
        SomebodyElses => "somebody_elses",
        BusinessProperty => "business_property",
    }
}

#[derive(Clone, Debug)]
pub struct Project {
    pub id: ProjectId,
    pub name: String,
    pub place: Place,
}

#[derive(Clone, Debug)]
pub struct BudgetLine {
    pub project: ProjectId,
    pub episode: Option<EpisodeId>,
    pub category: Category,
    pub amount: Money,
}

#[derive(Clone, Debug)]
pub struct Episode {
    pub id: EpisodeId,
    pub project: ProjectId,
    pub title: String,
    pub planned_on: Option<NaiveDate>,
    pub published_on: Option<NaiveDate>,
}

named! {
    /// In which capacity somebody worked.
    pub enum LabourStanding {
        /// The owner's own hours: never in the ledger.
        Own => "own",
        Paid => "paid",
        Volunteered => "volunteered",
    }
}

#[derive(Clone, Debug)]
pub struct Labour {
    pub person: String,
    pub standing: LabourStanding,
    pub date: NaiveDate,
    pub hours: Decimal,
    pub target: Target,
    pub paid: Money,
}

named! {
    /// Miles or kilometres.
    pub enum DistanceUnit { Mile => "mile", Kilometre => "kilometre" }
}

#[derive(Clone, Debug)]
pub struct Trip {
    pub date: NaiveDate,
    pub vehicle: String,
    pub distance: Decimal,
    pub unit: DistanceUnit,
    pub purpose: String,
    pub rate: Decimal,
    pub amount: Money,
}
