//! What the books keep of each thing, beside the journal: the rows a [`Recording`](super::recording::Recording)
//! writes and the facts the rules are given back. All money here is in the books' base currency.

mod documents;
mod goods;
mod income;
mod overhead;
mod people;
mod tools;
mod years;

pub use documents::{
    Document, DocumentAttachment, DocumentKind, DocumentOnHand, DocumentStanding, FileBytes, FileSum,
    Holding, Location, Pixels, Proved,
};
pub use goods::{
    Basis, BoughtIn, ConsignmentAct, DepositAct, Gift, GiftFate, GiftRelation, LeavingKind, Lot, LotMove,
    LotMoveKind, LotStanding, Piece, PieceBack, PieceConsignment, PieceDeposit, PieceLeaving, PieceOrigin,
    PiecePurpose, PieceRefund, PieceSale, PurchaseLine, SaleCharacter, Target,
};
pub use income::{
    Clawback, Deal, DealShare, Instalment, InstalmentDue, Invoice, Payout, Promise, PromiseKept,
    ReceivedFrom, Settlement,
};
pub use overhead::{OverheadBasis, OverheadEstimate, OverheadPool, OverheadRate, OverheadSpread};
pub use people::{
    BudgetLine, DistanceUnit, Episode, Labour, LabourStanding, MoneyAccountRow, Party, PartyRole, Place,
    Project, Trip,
};
pub use tools::{
    AttributionPlan, BusinessShare, Convention, DisposalKind, PriorDepreciation, PropertyType, RecoveryClass,
    TaxChoice, Tool, ToolDisposal, ToolEstimate, ToolImprovement, ToolOrigin, ToolRepair, ToolUse, Vehicle,
    VehicleBody,
};
pub use years::{
    CarryOver, ChargeKind, Election, ElectionKind, FiledLine, Filing, HomeOffice, HomeOfficeArea, PeriodAct,
    PeriodActKind, ToolCharge,
};

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
    BusinessShare(BusinessShare),
    ToolImprovement(ToolImprovement),
    ToolRepair(ToolRepair),
    ToolDisposal(ToolDisposal),
    Piece(Piece),
    PieceSale(PieceSale),
    PieceLeaving(PieceLeaving),
    PieceConsignment(PieceConsignment),
    PieceDeposit(PieceDeposit),
    PieceRefund(PieceRefund),
    Labour(Labour),
    Trip(Trip),
    Gift(Gift),
    Deal(Deal),
    DealShare(DealShare),
    InstalmentDue(InstalmentDue),
    Promise(Promise),
    PromiseKept(PromiseKept),
    Instalment(Instalment),
    Invoice(Invoice),
    Settlement(Settlement),
    Clawback(Clawback),
    Payout(Payout),
    Election(Election),
    HomeOffice(HomeOffice),
    Filing(Filing),
    PeriodAct(PeriodAct),
    ToolCharge(ToolCharge),
    CarryOver(CarryOver),
    Document(Document),
    DocumentAttachment(DocumentAttachment),
    OverheadPool(OverheadPool),
    OverheadSpread(OverheadSpread),
}
