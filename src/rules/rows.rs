//! What the books keep of each thing, beside the journal: the rows a [`Recording`](super::recording::Recording)
//! writes and the facts the rules are given back. All money here is in the books' base currency.

use chrono::NaiveDate;
use rust_decimal::Decimal;

use super::ids::{
    DealId, EpisodeId, LotId, MoneyAccountId, PartyId, PieceId, ProjectId, RecordId, SourceId, ToolId,
};
use super::money::{Currency, Money};
use super::named::named;
use super::recording::{Category, CostObject, MoneyAccountKind};
use super::treatment::Treatment;

/// One row to write; the record it belongs to is known to the one write path.
#[derive(Clone, Debug)]
pub enum Row {
    MoneyAccount(MoneyAccountRow),
    Party(Party),
    Project(Project),
    BudgetLine(BudgetLine),
    Episode(Episode),
    PurchaseLine(PurchaseLine),
    Lot(Lot),
    LotMove(LotMove),
    Tool(Tool),
    ToolUse(ToolUse),
    ToolEstimate(ToolEstimate),
    ToolDisposal(ToolDisposal),
    Piece(Piece),
    PieceSale(PieceSale),
    Labour(Labour),
    Trip(Trip),
    Gift(Gift),
    Deal(Deal),
    DealShare(DealShare),
    InstalmentDue(InstalmentDue),
    Promise(Promise),
    Instalment(Instalment),
    Clawback(Clawback),
    Payout(Payout),
    Election(Election),
    PeriodAct(PeriodAct),
}

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

/// One line of a receipt after tax, delivery and discount were spread over it.
#[derive(Clone, Debug)]
pub struct PurchaseLine {
    /// Counted from zero.
    pub position: usize,
    pub text: String,
    pub source: SourceId,
    pub amount: Money,
    pub treatments: Vec<(Treatment, Money)>,
}

/// A material lot: what one purchase line put on the shelf.
#[derive(Clone, Debug)]
pub struct Lot {
    pub id: LotId,
    pub source: SourceId,
    /// The same name makes lots of one material: what is issued by name leaves by the books' flow.
    pub material: String,
    pub unit: String,
    pub quantity: Decimal,
    pub cost: Money,
    pub acquired_on: NaiveDate,
    /// What an issue is to the tax office unless it says otherwise.
    pub treatment: Treatment,
    pub category: Category,
    pub standing: LotStanding,
}

named! {
    /// Whether a lot's cost still waits on the shelf or was deducted when it was paid.
    pub enum LotStanding { OnHand => "on_hand", Expensed => "expensed" }
}

/// Where something goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Target {
    Object(CostObject),
    Piece(PieceId),
    /// No cost object: it stays unattributed unless a rule spreads it.
    Overhead,
}

named! {
    /// What moves a lot's quantity.
    pub enum LotMoveKind {
        Issued => "issued",
        CameBack => "came_back",
        Wasted => "wasted",
        CountedShort => "counted_short",
        CountedOver => "counted_over",
        ReturnedToVendor => "returned_to_vendor",
    }
}

/// A change of a lot: quantity and cost are negative when something leaves.
#[derive(Clone, Debug)]
pub struct LotMove {
    pub lot: LotId,
    pub date: NaiveDate,
    pub kind: LotMoveKind,
    pub quantity: Decimal,
    pub cost: Money,
    pub to: Target,
    /// What it was to the tax office as it left; a come-back undoes the same.
    pub treatment: Treatment,
}

/// How a tool's cost reaches episodes (design: five methods).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AttributionPlan {
    /// (cost - salvage) / expected hours, by logged hours.
    PerUseHour { hours_expected: Decimal },
    /// The month's share over the month's uses; idle months stay unattributed.
    StraightLine { months: u32 },
    /// Equally over the episodes that have used it.
    EqualShare,
    /// By percentages given with each use; together at most 100.
    Percentages,
    /// In full over the first uses given.
    ExpenseNow,
}

named! {
    /// How a tool came into the business.
    pub enum ToolOrigin {
        Bought => "bought",
        /// Taken into income at its value: that value is its basis.
        ForPromotion => "for_promotion",
        /// No basis for the business.
        PersonalGift => "personal_gift",
        Loan => "loan",
        /// Owned before and brought into the business: lower of basis and value; no section 179, no allowance.
        ConvertedFromPersonal => "converted_from_personal",
    }
}

named! {
    /// The recovery class of a tool (years).
    pub enum RecoveryClass { Three => "3", Five => "5", Seven => "7" }
}

named! {
    /// Whether the law lists the property by type (cameras and sound gear are).
    pub enum PropertyType { Ordinary => "ordinary", Listed => "listed" }
}

named! {
    /// The recorded tax choice of a tool; `by_law` is whatever the year's elections and the law give it.
    pub enum TaxChoice {
        ByLaw => "by_law",
        Section179 => "section_179",
        StraightLine => "straight_line",
        /// Never small-tool expensing, even where the year elects it.
        Capitalise => "capitalise",
    }
}

named! {
    /// The averaging convention that depreciation before the books began was taken under.
    pub enum Convention {
        HalfYear => "half_year",
        MidQuarter => "mid_quarter",
    }
}

/// What was taken on a tool before the books began.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PriorDepreciation {
    pub taken: Money,
    pub convention: Convention,
    /// Of `taken`: section 179 and special allowance, which reduce the basis the tables are applied to.
    pub first_year_write_off: Money,
}

/// A durable thing used on many episodes.
#[derive(Clone, Debug)]
pub struct Tool {
    pub id: ToolId,
    pub source: SourceId,
    pub name: String,
    pub origin: ToolOrigin,
    /// The date of the binding contract where there was one: it selects the special allowance.
    pub acquired_on: NaiveDate,
    pub in_service_on: NaiveDate,
    pub cost: Money,
    pub salvage: Money,
    pub plan: AttributionPlan,
    pub class: RecoveryClass,
    pub property: PropertyType,
    pub choice: TaxChoice,
    /// The amount elected under section 179; zero unless `choice` says so.
    pub section_179: Money,
    /// Business share of its use in percent; touches tax only.
    pub business_share: Decimal,
    pub prior: Option<PriorDepreciation>,
    /// Hours run before the books began.
    pub hours_before: Decimal,
}

#[derive(Clone, Debug)]
pub struct ToolUse {
    pub tool: ToolId,
    pub date: NaiveDate,
    pub object: CostObject,
    pub hours: Option<Decimal>,
    /// Percent of the tool's cost, with the percentages plan.
    pub share: Option<Decimal>,
}

/// A change of estimate: it applies to uses from `date` on, and leaves what was charged before.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ToolEstimate {
    pub tool: ToolId,
    pub date: NaiveDate,
    /// Its life in all as it is seen from then on.
    pub plan: AttributionPlan,
    /// Hours it had run by then; what is left of its cost goes over the rest.
    pub hours_run: Decimal,
    pub salvage: Money,
    /// What of the cost less salvage was still to reach episodes from then on.
    pub left: Money,
}

named! {
    /// How a tool left.
    pub enum DisposalKind {
        Sold => "sold",
        Scrapped => "scrapped",
        Stolen => "stolen",
        PersonalUse => "personal_use",
    }
}

#[derive(Clone, Debug)]
pub struct ToolDisposal {
    pub tool: ToolId,
    pub date: NaiveDate,
    pub kind: DisposalKind,
    pub proceeds: Money,
}

named! {
    /// How a piece of furniture was come by.
    pub enum PieceOrigin {
        Bought => "bought",
        AlreadyOwned => "already_owned",
        Found => "found",
        Gifted => "gifted",
        Built => "built",
    }
}

named! {
    /// What a piece is for; it decides the character of its sale.
    pub enum PiecePurpose { Resale => "resale", Set => "set", Personal => "personal" }
}

/// What a thing cost for tax, or that nobody knows: never zero instead.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Basis {
    Known(Money),
    Unknown,
}

/// A piece of furniture.
#[derive(Clone, Debug)]
pub struct Piece {
    pub id: PieceId,
    /// Its costs as they come in: purchase, materials, paid labour.
    pub source: SourceId,
    pub name: String,
    pub origin: PieceOrigin,
    pub purpose: PiecePurpose,
    pub acquired_on: NaiveDate,
    /// Basis on the day it came; what refinishing adds is in the source's movements.
    pub basis: Basis,
    /// What its cost is to the tax office: resale, an expense for a set piece, personal.
    pub treatment: Treatment,
    /// The episode or project it was got for.
    pub object: Option<CostObject>,
}

named! {
    /// What a sale of furniture is to the tax office.
    pub enum SaleCharacter {
        /// Stock in trade: gross receipts and cost of goods sold.
        StockInTrade => "stock_in_trade",
        /// The owner's own household thing: a gain is taxed, a loss is not deducted.
        PersonalProperty => "personal_property",
        /// A set piece the business used.
        BusinessProperty => "business_property",
    }
}

#[derive(Clone, Debug)]
pub struct PieceSale {
    pub piece: PieceId,
    pub date: NaiveDate,
    pub gross: Money,
    pub fees: Money,
    pub basis: Basis,
    pub character: SaleCharacter,
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

named! {
    /// Why goods came for nothing.
    pub enum GiftRelation {
        /// In exchange for showing them.
        Promotion => "promotion",
        Loan => "loan",
        UnsolicitedBrandGoods => "unsolicited_brand_goods",
        PersonalGift => "personal_gift",
    }
}

named! {
    /// What became of the goods.
    pub enum GiftFate {
        KeptForBusiness => "kept_for_business",
        KeptPersonally => "kept_personally",
        Returned => "returned",
        GivenAway => "given_away",
        Undecided => "undecided",
    }
}

#[derive(Clone, Debug)]
pub struct Gift {
    /// The record that brought the goods; none on that very record.
    pub gift: Option<RecordId>,
    pub party: PartyId,
    pub what: String,
    pub relation: GiftRelation,
    pub received_on: NaiveDate,
    /// Fair value; none where nobody has valued it yet, which is a question to the preparer.
    pub value: Option<Money>,
    pub evidence: Option<String>,
    pub fate: GiftFate,
    pub fate_on: Option<NaiveDate>,
    /// The cost source its value went into, where it has one.
    pub source: Option<SourceId>,
    /// The deal it came under, where it is part of one.
    pub deal: Option<DealId>,
}

#[derive(Clone, Debug)]
pub struct Deal {
    pub id: DealId,
    pub sponsor: PartyId,
    pub agency: Option<PartyId>,
    pub title: String,
    pub agreed_on: NaiveDate,
    /// Total agreed, in the deal's own currency, which the base value of its instalments can not be held
    /// against: the rate moves between them. Goods are apart.
    pub agreed: Money,
    /// Paid before the books began, in the deal's own currency.
    pub paid_before: Money,
}

/// An episode or project that a deal counts for, by weight.
#[derive(Clone, Debug)]
pub struct DealShare {
    pub deal: DealId,
    pub object: CostObject,
    pub weight: Decimal,
}

/// A part of a deal's total and the day it is due, in the deal's own currency.
#[derive(Clone, Debug)]
pub struct InstalmentDue {
    pub deal: DealId,
    pub due_on: NaiveDate,
    pub amount: Money,
    pub what: String,
}

/// What was promised to a sponsor by when.
#[derive(Clone, Debug)]
pub struct Promise {
    pub deal: DealId,
    pub what: String,
    pub episode: Option<EpisodeId>,
    pub due_on: NaiveDate,
}

named! {
    /// Who handed the money over.
    pub enum ReceivedFrom { Sponsor => "sponsor", Agency => "agency" }
}

#[derive(Clone, Debug)]
pub struct Instalment {
    pub deal: DealId,
    /// The gross in the deal's own currency: what it counts against the total agreed.
    pub counts: Money,
    pub gross: Money,
    pub kept_by_agency: Money,
    pub kept_by_bank: Money,
    pub tax_withheld: Money,
    pub net: Money,
    pub received_from: ReceivedFrom,
    /// The day it was the owner's to have: the agency's day where an agency stood between.
    pub income_on: NaiveDate,
    pub received_on: NaiveDate,
}

/// What went back to a sponsor.
#[derive(Clone, Debug)]
pub struct Clawback {
    pub deal: DealId,
    pub paid_on: NaiveDate,
    /// In the deal's own currency.
    pub counts: Money,
    pub amount: Money,
}

#[derive(Clone, Debug)]
pub struct Payout {
    pub platform: PartyId,
    pub account: MoneyAccountId,
    pub received_on: NaiveDate,
    pub gross: Money,
    pub fees: Money,
    pub tax_withheld: Money,
    pub reserve_held: Money,
    pub reserve_released: Money,
    pub adjustments: Money,
    pub net: Money,
}

named! {
    /// Choices a taxpayer records for a year.
    pub enum ElectionKind {
        /// Expense everything that qualifies under the de minimis safe harbour.
        DeMinimis => "de_minimis",
        /// Leave the special allowance for a class.
        NoSpecialAllowance => "no_special_allowance",
        /// Straight line for a class.
        StraightLine => "straight_line",
        /// The 2025-only lower allowance of 40 %.
        LowerAllowance2025 => "lower_allowance_2025",
        /// Treat inventory as materials and supplies that are not incidental.
        InventoryAsMaterials => "inventory_as_materials",
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Election {
    pub tax_year: i32,
    pub kind: ElectionKind,
    /// With elections by class.
    pub class: Option<RecoveryClass>,
}

named! {
    /// Closing and reopening are explicit, recorded acts.
    pub enum PeriodActKind { Closed => "closed", Reopened => "reopened" }
}

#[derive(Clone, Debug)]
pub struct PeriodAct {
    pub kind: PeriodActKind,
    /// The last closed day after this act.
    pub closed_through: NaiveDate,
    pub reason: String,
}
