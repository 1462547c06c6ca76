//! Things bought, found or given: receipts, material lots, furniture and gifts.

use chrono::NaiveDate;
use rust_decimal::Decimal;

use crate::rules::ids::{DealId, LotId, PartyId, PieceId, RecordId, SourceId};
use crate::rules::money::Money;
use crate::rules::named::named;
use crate::rules::recording::{Category, CostObject};
use crate::rules::treatment::Treatment;
use crate::rules::units::Factor;

/// One line of a receipt after tax, delivery and discount were spread over it.
#[derive(Clone, Debug)]
pub struct PurchaseLine {
    /// Counted from zero.
    pub position: usize,
    /// Zero, or counted on where one line of the receipt is several tools: each of them has a source of its own.
    pub part: usize,
    pub text: String,
    pub source: SourceId,
    pub amount: Money,
    pub treatments: Vec<(Treatment, Money)>,
    /// The vehicle whose actual cost it is.
    pub vehicle: Option<String>,
}

/// A material lot: what one purchase line put on the shelf.
#[derive(Clone, Debug)]
pub struct Lot {
    pub id: LotId,
    pub source: SourceId,
    /// The same name makes lots of one material: what is issued by name leaves by the books' flow.
    pub material: String,
    /// What it is kept in; `quantity` and every move are in this unit.
    pub unit: String,
    /// The unit that it was bought in, where that is another.
    pub bought_in: Option<BoughtIn>,
    pub quantity: Decimal,
    pub cost: Money,
    pub acquired_on: NaiveDate,
    /// What an issue is to the tax office unless it says otherwise.
    pub treatment: Treatment,
    pub category: Category,
    pub standing: LotStanding,
}

/// A unit that a lot knows beside its own.
#[derive(Clone, Debug, PartialEq)]
pub struct BoughtIn {
    pub unit: String,
    /// How much of the lot's own unit one of it is.
    pub factor: Factor,
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
        /// Money came back and no goods went: the lot cost so much less in all.
        Rebated => "rebated",
        /// The part of it that is less where some of the lot went.
        RebatePassedOn => "rebate_passed_on",
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

named! {
    /// How a piece of furniture was come by.
    pub enum PieceOrigin {
        Bought => "bought",
        AlreadyOwned => "already_owned",
        Found => "found",
        Gifted => "gifted",
        Built => "built",
        /// Taken for another piece that was given for it.
        Swapped => "swapped",
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
    /// What it would have fetched on the day it was given, or came into the business after it was the owner's.
    pub value: Option<Money>,
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
    /// Where there are two bases, the one for a gain.
    pub basis: Basis,
    /// The lower one that counts for a loss, where a gift or something owned before was worth less than it had cost.
    pub basis_for_loss: Option<Money>,
    pub character: SaleCharacter,
}

named! {
    /// How a piece left other than by a sale.
    pub enum LeavingKind {
        /// A set that was taken apart: its parts are pieces of their own.
        TakenApart => "taken_apart",
        /// To viewers, as a prize or for the showing.
        GivenAway => "given_away",
        /// To a charity.
        Donated => "donated",
        Dumped => "dumped",
        /// Stolen, burnt, broken.
        Lost => "lost",
        /// Kept by the owner, or given to family and friends.
        TakenHome => "taken_home",
        /// The owner's own, which became the business's: a piece of its own there.
        BroughtIn => "brought_in",
    }
}

/// A piece that left without a sale; once, unless it was taken back.
#[derive(Clone, Debug)]
pub struct PieceLeaving {
    pub piece: PieceId,
    pub date: NaiveDate,
    pub how: LeavingKind,
    /// What left the pieces for resale with it.
    pub cost: Money,
}

named! {
    /// Whether a piece stands in somebody's shop.
    pub enum ConsignmentAct {
        HandedOver => "handed_over",
        FetchedBack => "fetched_back",
        SoldThere => "sold_there",
    }
}

/// A piece goes to a shop that sells it for a commission, and comes from it.
#[derive(Clone, Debug, PartialEq)]
pub struct PieceConsignment {
    pub piece: PieceId,
    pub date: NaiveDate,
    pub act: ConsignmentAct,
    pub shop: PartyId,
    /// The shop's part of the price in percent.
    pub commission: Decimal,
}

named! {
    /// What becomes of a buyer's deposit.
    pub enum DepositAct {
        Taken => "taken",
        /// Part of the price when the piece was sold.
        Applied => "applied",
        /// The buyer did not come.
        Kept => "kept",
        PaidBack => "paid_back",
    }
}

/// A buyer's deposit on a piece, and what became of it.
#[derive(Clone, Debug)]
pub struct PieceDeposit {
    pub piece: PieceId,
    pub date: NaiveDate,
    pub act: DepositAct,
    pub amount: Money,
}

named! {
    /// Who has the piece after a buyer got money back.
    pub enum PieceBack { KeptByBuyer => "kept_by_buyer", CameBack => "came_back" }
}

/// What a buyer got back after a sale.
#[derive(Clone, Debug)]
pub struct PieceRefund {
    pub piece: PieceId,
    /// The record of the sale.
    pub sale: RecordId,
    pub date: NaiveDate,
    pub amount: Money,
    /// What the marketplace gave back of its fees.
    pub fees_back: Money,
    pub back: PieceBack,
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
