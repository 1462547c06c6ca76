//! Stock, the home and miles.

use rust_decimal::{Decimal, RoundingStrategy};
use serde::Serialize;
use utoipa::ToSchema;

use super::super::super::ids::ProjectId;
use super::super::super::journal::{Account, EntryKind, TaxClass};
use super::super::super::money::{Money, MoneyFinding};
use super::super::super::rows::{DistanceUnit, LeavingKind, PiecePurpose};
use super::super::facts::{TripSum, YearFacts};
use super::super::form::postings;
use super::super::questions::{Questions, Topic};

/// What came to the pieces for resale in the year, by kind of cost.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct StockChange {
    pub class: TaxClass,
    pub amount: Money,
    pub drill_down: String,
}

/// Stock at the beginning and at the end of the year.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct InventorySchedule {
    pub pieces_opening: Money,
    /// Pieces that came to be sold, one a line.
    pub pieces_added: Vec<StockChange>,
    /// Opening and additions less closing.
    pub pieces_sold: Money,
    pub pieces_closing: Money,
    /// Materials wait on the shelf until they are used; they are not on the form before.
    pub materials_opening: Money,
    pub materials_closing: Money,
    /// Where what stood at the beginning comes from, pieces and materials.
    pub opening_drill_down: String,
    /// The postings of the pieces for resale through the year's end.
    pub pieces_drill_down: String,
    /// The same for materials on hand.
    pub materials_drill_down: String,
}

const RESALE: [TaxClass; 4] =
    [TaxClass::ResalePurchases, TaxClass::ResaleLabour, TaxClass::ResaleMaterials, TaxClass::ResaleOther];

/// Stock, with a question where the form's cost of goods sold and the account's differ, and where stock was left
/// that nobody counted. What the opening position brought counts as there at the beginning of the year.
/// # Errors
/// [`MoneyFinding`] if a sum is too large.
pub(in super::super) fn inventory(
    facts: &YearFacts,
    questions: &mut Questions,
) -> Result<InventorySchedule, MoneyFinding> {
    let stated = |account: Account| {
        let opening =
            facts.postings.iter().filter(|sum| sum.kind == EntryKind::Opening && sum.account == account);
        Money::sum(facts.books.base, opening.map(|sum| sum.amount))
    };
    let stock = &facts.stock;
    let pieces_opening = stock.pieces_before.plus(stated(Account::PiecesForResale)?)?;
    let materials_opening = stock.materials_before.plus(stated(Account::MaterialsOnHand)?)?;
    let mut pieces_added = Vec::new();
    let mut sold = pieces_opening;
    for class in RESALE {
        let amount = facts.of_classes(&[class])?;
        sold = sold.plus(amount)?;
        if !amount.is_zero() {
            let drill_down = postings(facts, &[class]);
            pieces_added.push(StockChange { class, amount, drill_down });
        }
    }
    let schedule = InventorySchedule {
        pieces_opening,
        pieces_added,
        pieces_sold: sold.minus(stock.pieces_after)?,
        pieces_closing: stock.pieces_after,
        materials_opening,
        materials_closing: stock.materials_after,
        opening_drill_down: opening_address(facts),
        pieces_drill_down: through(facts.year(), Account::PiecesForResale),
        materials_drill_down: through(facts.year(), Account::MaterialsOnHand),
    };
    ask_stock(facts, &schedule, questions)?;
    ask_left(facts, questions);
    Ok(schedule)
}

/// In the books' first year stock was there by its opening position, later by the year before.
fn opening_address(facts: &YearFacts) -> String {
    if facts.first_year == facts.year() {
        "/v1/openings".to_owned()
    } else {
        format!("/v1/tax-years/{}/summary#inventory", facts.year() - 1)
    }
}

fn through(year: i32, account: Account) -> String {
    format!("/v1/postings?account={}&to={year}-12-31", account.code())
}

fn ask_stock(
    facts: &YearFacts,
    schedule: &InventorySchedule,
    questions: &mut Questions,
) -> Result<(), MoneyFinding> {
    let by_account = facts.sum_where(|sum| sum.account == Account::CostOfPiecesSold)?;
    if by_account != schedule.pieces_sold {
        questions.ask(
            Topic::Inventory,
            format!(
                "Cost of goods sold comes to {} by stock and purchases, but {by_account} by the pieces sold: was a \
                 piece taken out for private use, lost or thrown away?",
                schedule.pieces_sold
            ),
            [format!("/v1/postings?tax_year={}&account=pieces_for_resale", facts.year())],
        );
    }
    let left = schedule.pieces_closing.plus(schedule.materials_closing)?;
    if facts.counted_on.is_none() && !left.is_zero() {
        questions.ask(
            Topic::YearEndCount,
            format!(
                "The books have stock of {left} at the end of {}, and no count of it is recorded: is it all there?",
                facts.year()
            ),
            ["/v1/materials".to_owned(), "/v1/furniture".to_owned()],
        );
    }
    Ok(())
}

/// Pieces that left without a sale: what their leaving is, and what the books can not know.
fn ask_left(facts: &YearFacts, questions: &mut Questions) {
    let those = |passes: &dyn Fn(LeavingKind, PiecePurpose) -> bool| -> Vec<String> {
        let passing = facts.pieces_left.iter().filter(|one| passes(one.left.how, one.purpose));
        passing.map(|one| format!("/v1/furniture/{}/standing", one.left.piece)).collect()
    };
    questions.ask_about(
        Topic::Donations,
        "These were donated. Nothing of them is deducted here, and stock among them is no cost of goods sold: is there \
         a receipt, and what may the owner deduct? For stock that is the smaller of its value and its basis (Pub. 526, \
         from memory).",
        those(&|how, _| how == LeavingKind::Donated),
    );
    questions.ask_about(
        Topic::PiecesLost,
        "These are gone without a sale, and stock among them is in the cost of goods sold: is there evidence of it, and \
         was or will anything be paid for them?",
        those(&|how, purpose| {
            purpose != PiecePurpose::Personal && matches!(how, LeavingKind::Lost | LeavingKind::Dumped)
        }),
    );
    questions.ask_about(
        Topic::PiecesTakenHome,
        "The owner took these set pieces home, and they were deducted before: does something come back into income?",
        those(&|how, purpose| how == LeavingKind::TakenHome && purpose == PiecePurpose::Set),
    );
    questions.ask_about(
        Topic::PiecesGivenAway,
        "This stock was given to viewers and is in advertising at its cost, which is common practice, not a published \
         rule: was it given for the business?",
        those(&|how, purpose| how == LeavingKind::GivenAway && purpose == PiecePurpose::Resale),
    );
}

/// What stayed in the owner's home from one project.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct HomeRow {
    pub project: Option<ProjectId>,
    pub name: String,
    /// Adds to the home's basis: keep the receipts as long as the home.
    pub improvements: Money,
    pub repairs: Money,
}

/// What stayed in the owner's home.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct HomeSchedule {
    /// One project a row.
    pub rows: Vec<HomeRow>,
    pub improvements: Money,
    pub repairs: Money,
}

/// By project, with a row of its own for what no project explains, so that it adds up to the journal.
/// # Errors
/// [`MoneyFinding`] if a sum is too large.
pub(in super::super) fn home(
    facts: &YearFacts,
    questions: &mut Questions,
) -> Result<HomeSchedule, MoneyFinding> {
    let base = facts.books.base;
    let improvements = facts.of_classes(&[TaxClass::HomeImprovement])?;
    let repairs = facts.of_classes(&[TaxClass::HomeRepair])?;
    let mut rows: Vec<HomeRow> = facts
        .home
        .iter()
        .map(|one| HomeRow {
            project: one.project,
            name: one.name.clone(),
            improvements: one.improvements,
            repairs: one.repairs,
        })
        .collect();
    let rest = HomeRow {
        project: None,
        name: "of no project".to_owned(),
        improvements: improvements.minus(Money::sum(base, rows.iter().map(|row| row.improvements))?)?,
        repairs: repairs.minus(Money::sum(base, rows.iter().map(|row| row.repairs))?)?,
    };
    if !rest.improvements.is_zero() || !rest.repairs.is_zero() {
        rows.push(rest);
    }
    if !improvements.is_zero() || !repairs.is_zero() {
        questions.ask(
            Topic::HomeImprovements,
            format!(
                "{improvements} went into the owner's home as improvements and {repairs} as repairs, none of it \
                 deducted. Is each on its right side? A repair within an extensive remodel counts as part of it \
                 (Pub. 523, seen)."
            ),
            rows.iter().map(|row| match row.project {
                Some(project) => format!("/v1/projects/{project}"),
                None => row.name.clone(),
            }),
        );
    }
    Ok(HomeSchedule { rows, improvements, repairs })
}

/// The business miles of one vehicle.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct MileageRow {
    /// The vehicle, as the trips name it.
    pub vehicle: String,
    /// Kilometres are given in miles, to a tenth.
    #[schema(value_type = String)]
    pub miles: Decimal,
    /// For a mile, in the form's currency.
    #[schema(value_type = String)]
    pub rate: Decimal,
    /// Miles times the year's rate.
    pub at_rate: Money,
    /// What the trips were posted at.
    pub posted: Money,
    /// The part of the rate that counts as depreciation and lowers the vehicle's basis.
    pub depreciation_part: Money,
}

/// All vehicles at the standard rate.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct MileageSchedule {
    /// One vehicle a row.
    pub rows: Vec<MileageRow>,
    /// Of all vehicles.
    #[schema(value_type = String)]
    pub miles: Decimal,
    pub posted: Money,
    /// Parking, tolls and other costs of vehicles beside the rate.
    pub beside_the_rate: Money,
}

/// Metres in an international mile.
const METRES_A_MILE: Decimal = Decimal::from_parts(1_609_344, 0, 0, false, 3);

fn miles_of(trips: &TripSum) -> Decimal {
    match trips.unit {
        DistanceUnit::Mile => trips.distance,
        DistanceUnit::Kilometre => (trips.distance * Decimal::ONE_THOUSAND / METRES_A_MILE)
            .round_dp_with_strategy(1, RoundingStrategy::MidpointAwayFromZero),
    }
}

/// Miles by vehicle, with questions about the rate and the answers the form wants.
/// # Errors
/// [`MoneyFinding`] if a sum is too large.
pub(in super::super) fn mileage(
    facts: &YearFacts,
    questions: &mut Questions,
) -> Result<MileageSchedule, MoneyFinding> {
    let base = facts.books.base;
    let rates = &facts.profile.mileage;
    let mut rows: Vec<MileageRow> = Vec::with_capacity(facts.trips.len());
    for trips in &facts.trips {
        let miles = miles_of(trips);
        let at = |rate: Decimal| Money::rounded(miles.checked_mul(rate).ok_or(MoneyFinding::TooLarge)?, base);
        rows.push(MileageRow {
            vehicle: trips.vehicle.clone(),
            miles: miles.normalize(),
            rate: rates.per_mile.value,
            at_rate: at(rates.per_mile.value)?,
            posted: trips.amount,
            depreciation_part: at(rates.depreciation_part.value)?,
        });
    }
    let posted = Money::sum(base, rows.iter().map(|row| row.posted))?;
    let schedule = MileageSchedule {
        miles: rows.iter().map(|row| row.miles).sum::<Decimal>().normalize(),
        posted,
        beside_the_rate: facts.of_classes(&[TaxClass::Vehicle])?.minus(posted)?,
        rows,
    };
    ask_vehicles(&schedule, questions)?;
    Ok(schedule)
}

fn ask_vehicles(schedule: &MileageSchedule, questions: &mut Questions) -> Result<(), MoneyFinding> {
    for row in &schedule.rows {
        // Each trip is rounded to the cent, so that a year of trips may be a little apart from the year's miles.
        if row.posted.minus(row.at_rate)?.absolute().amount() > Decimal::ONE {
            questions.ask(
                Topic::Vehicle,
                format!(
                    "The trips of '{}' are posted at {}, but {} miles at {} come to {}: was another rate used?",
                    row.vehicle, row.posted, row.miles, row.rate, row.at_rate
                ),
                ["/v1/trips".to_owned()],
            );
        }
    }
    if !schedule.rows.is_empty() {
        questions.ask(
            Topic::Vehicle,
            "For each vehicle: since when is it used for the business, how many miles were commuting and private, is it \
             there for private use, is there another one, and is the evidence in writing? Was the standard rate chosen \
             in its first year of business use?",
            schedule.rows.iter().map(|row| row.vehicle.clone()),
        );
    } else if schedule.beside_the_rate.is_positive() {
        questions.ask(
            Topic::Vehicle,
            "There are costs of vehicles but no trips: are they actual costs, and what is the business share of the miles?",
            ["/v1/trips".to_owned()],
        );
    }
    Ok(())
}
