//! What the summary has to be told: plain facts of one set of books and one tax year. All money is in the books'
//! base currency.

use chrono::NaiveDate;

use super::super::ids::{DealId, MoneyAccountId, PieceId, ProjectId, RecordId, ToolId};
use super::super::journal::{Account, EntryKind, TaxClass};
use super::super::money::{Currency, Money};
use super::super::recording::BooksFacts;
use super::super::rows::{
    BusinessShare, DistanceUnit, Election, FiledLine, Gift, GiftFate, GiftRelation, HomeOffice, Instalment,
    Payout, PieceLeaving, PiecePurpose, PieceRefund, PieceSale, SaleCharacter, Tool, ToolDisposal,
};
use super::payees::PaidToParty;
use super::profile::Profile;

/// A tool as it stands in the books, with its leaving if it left.
#[derive(Clone, Debug)]
pub struct ToolFacts {
    pub tool: Tool,
    /// What was stated of its use, year by year, in any order.
    pub shares: Vec<BusinessShare>,
    pub disposal: Option<ToolDisposal>,
}

/// What repairs of a tool cost in the year.
#[derive(Clone, Debug)]
pub struct ToolRepairs {
    pub tool: ToolId,
    pub amount: Money,
}

/// The postings of one account, class and kind of entry, added up over one tax year.
#[derive(Clone, Debug)]
pub struct PostingSum {
    pub account: Account,
    pub class: Option<TaxClass>,
    /// A reversal's postings go with the kind of the entry that it reverses.
    pub kind: EntryKind,
    /// Debits positive, credits negative.
    pub amount: Money,
}

/// What stood on the two stock accounts, by the tax year of the postings: `before` through the year before,
/// `after` through this year.
#[derive(Clone, Copy, Debug)]
pub struct StockBalances {
    pub pieces_before: Money,
    pub pieces_after: Money,
    pub materials_before: Money,
    pub materials_after: Money,
}

impl StockBalances {
    pub fn none(currency: Currency) -> Self {
        let zero = Money::zero(currency);
        Self { pieces_before: zero, pieces_after: zero, materials_before: zero, materials_after: zero }
    }
}

/// Whether the books say what was there on the day they began.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OpeningStated {
    Stated,
    NotStated,
}

/// The year's trips of one vehicle at the standard rate.
#[derive(Clone, Debug)]
pub struct TripSum {
    pub vehicle: String,
    pub unit: DistanceUnit,
    pub distance: rust_decimal::Decimal,
    /// What was posted for them.
    pub amount: Money,
}

/// Goods received, with the giver's name.
#[derive(Clone, Debug)]
pub struct GiftFacts {
    /// The record that brought them.
    pub record: RecordId,
    pub gift: Gift,
    pub from: String,
}

/// Whether goods were lent first and kept by a later decision, which makes them income of that day. A loan that is
/// used as a tool from the day it came is still a loan.
pub const fn is_kept_loan(gift: &Gift) -> bool {
    let is_kept =
        matches!(gift.fate, GiftFate::KeptForBusiness | GiftFate::KeptPersonally | GiftFate::GivenAway);
    matches!(gift.relation, GiftRelation::Loan) && gift.gift.is_some() && is_kept
}

/// A piece of furniture sold in the year.
#[derive(Clone, Debug)]
pub struct PieceSaleFacts {
    pub piece: PieceId,
    pub name: String,
    pub sale: PieceSale,
    /// What it had cost as it came, and what it was worth then, where that is known.
    pub came_at: Option<Money>,
    pub value: Option<Money>,
}

/// What a buyer of furniture got back in the year.
#[derive(Clone, Debug)]
pub struct RefundFacts {
    pub refund: PieceRefund,
    pub character: SaleCharacter,
    /// The year of the sale.
    pub sold_in: i32,
}

/// A piece of furniture that left in the year without a sale.
#[derive(Clone, Debug)]
pub struct PieceLeftFacts {
    pub name: String,
    pub purpose: PiecePurpose,
    pub left: PieceLeaving,
}

/// What of the year's costs stayed in the owner's home.
#[derive(Clone, Debug)]
pub struct HomeCost {
    /// None for what no project explains.
    pub project: Option<ProjectId>,
    pub name: String,
    /// Adds to the home's basis.
    pub improvements: Money,
    /// Does not.
    pub repairs: Money,
}

/// The simplified method for a home office, as it is recorded.
#[derive(Clone, Debug)]
pub struct HomeOfficeStated {
    pub record: RecordId,
    pub office: HomeOffice,
}

/// The last return of the year that was filed.
#[derive(Clone, Debug)]
pub struct FiledYear {
    /// The record of the filing.
    pub record: RecordId,
    pub filed_on: NaiveDate,
    /// The ledger's last entry then.
    pub head_number: i64,
    /// How many returns of the year were filed, this one included.
    pub times: usize,
    pub lines: Vec<FiledLine>,
    /// What was recorded since and carries the year, in the order it was recorded.
    pub since: Vec<RecordSince>,
}

/// A record made after a filing.
#[derive(Clone, Debug)]
pub struct RecordSince {
    pub record: RecordId,
    pub word: String,
    pub kind: String,
    pub date: NaiveDate,
    pub text: String,
    pub takes_back: Vec<RecordNamed>,
    pub taken_back_by: Option<RecordId>,
}

/// A record by its day and text.
#[derive(Clone, Debug)]
pub struct RecordNamed {
    pub record: RecordId,
    pub date: NaiveDate,
    pub text: String,
}

/// Paid in the year to a party that is family.
#[derive(Clone, Debug)]
pub struct FamilyPayment {
    pub name: String,
    pub amount: Money,
}

/// What sponsors owe in accrual books, where an invoice is income before it is paid; all zero on the cash basis.
#[derive(Clone, Debug)]
pub struct Receivables {
    /// Booked with the year's invoices.
    pub invoiced: Money,
    /// Paid in the year on invoices, at what they were booked with.
    pub settled: Money,
    /// What rates took between invoices and their payment in the year.
    pub exchange_losses: Money,
    /// Parts of deals due by the year's end, neither invoiced nor paid.
    pub due: Vec<DueNotInvoiced>,
}

/// A deal with a part that is due and neither invoiced nor paid; in its own currency.
#[derive(Clone, Debug)]
pub struct DueNotInvoiced {
    pub deal: DealId,
    pub title: String,
    pub amount: Money,
}

impl Receivables {
    pub fn none(currency: Currency) -> Self {
        let zero = Money::zero(currency);
        Self { invoiced: zero, settled: zero, exchange_losses: zero, due: Vec::new() }
    }
}

/// An account of the business in another currency, with money on it at the year's end or moved in the year.
#[derive(Clone, Debug)]
pub struct ForeignAccount {
    pub account: MoneyAccountId,
    pub name: String,
    pub currency: Currency,
    /// At the rates of the records that moved it.
    pub balance: Money,
}

/// Everything a summary is made from.
#[derive(Clone, Debug)]
pub struct YearFacts {
    pub profile: &'static Profile,
    pub books: BooksFacts,
    /// The tax year in which the books begin: what tools took before it is their opening position.
    pub first_year: i32,
    pub opening: OpeningStated,
    /// The postings of the profile's year.
    pub postings: Vec<PostingSum>,
    pub stock: StockBalances,
    /// Every tool the books know, whatever its year: conventions are settled by the year it came into service.
    pub tools: Vec<ToolFacts>,
    /// Repairs of the year, tool by tool.
    pub repairs: Vec<ToolRepairs>,
    /// The elections of all years.
    pub elections: Vec<Election>,
    /// Section 179 of earlier years that their income did not allow.
    pub section_179_brought_forward: Money,
    pub trips: Vec<TripSum>,
    /// Goods received in the year, and loans kept in it.
    pub gifts: Vec<GiftFacts>,
    /// Sales of the year, of all characters, less what went back in the same year.
    pub piece_sales: Vec<PieceSaleFacts>,
    /// What buyers got back in the year. What goes back in the year of its sale is taken off the sale already.
    pub refunds: Vec<RefundFacts>,
    /// Pieces that left in the year without a sale.
    pub pieces_left: Vec<PieceLeftFacts>,
    /// Statements whose income is the year's.
    pub payouts: Vec<Payout>,
    /// Instalments that are income of the year.
    pub instalments: Vec<Instalment>,
    pub receivables: Receivables,
    pub foreign_accounts: Vec<ForeignAccount>,
    pub home: Vec<HomeCost>,
    /// None where the year keeps to the actual costs, or there is no home office.
    pub home_office: Option<HomeOfficeStated>,
    /// None until a return of the year is filed.
    pub filed: Option<FiledYear>,
    /// The last physical count of stock within a month of the year's end.
    pub counted_on: Option<NaiveDate>,
    /// The year's purchases that no document is stored with.
    pub purchases_without_document: usize,
    pub family: Vec<FamilyPayment>,
    /// What helpers, trades and landlords were paid, entry by entry.
    pub paid_to: Vec<PaidToParty>,
}

impl YearFacts {
    /// The facts of a year in which nothing happened, to be filled in.
    pub fn empty(profile: &'static Profile, books: BooksFacts) -> Self {
        let base = books.base;
        Self {
            profile,
            books,
            first_year: profile.year,
            opening: OpeningStated::NotStated,
            postings: Vec::new(),
            stock: StockBalances::none(base),
            tools: Vec::new(),
            repairs: Vec::new(),
            elections: Vec::new(),
            section_179_brought_forward: Money::zero(base),
            trips: Vec::new(),
            gifts: Vec::new(),
            piece_sales: Vec::new(),
            refunds: Vec::new(),
            pieces_left: Vec::new(),
            payouts: Vec::new(),
            instalments: Vec::new(),
            receivables: Receivables::none(base),
            foreign_accounts: Vec::new(),
            home: Vec::new(),
            home_office: None,
            filed: None,
            counted_on: None,
            purchases_without_document: 0,
            family: Vec::new(),
            paid_to: Vec::new(),
        }
    }

    pub const fn year(&self) -> i32 {
        self.profile.year
    }

    /// The sum of the year's postings that pass, without what the summary works out itself (year-end
    /// depreciation), what only closes the year, and what was there before.
    pub(super) fn sum_where(
        &self,
        passes: impl Fn(&PostingSum) -> bool,
    ) -> Result<Money, super::super::money::MoneyFinding> {
        let counts = |kind| matches!(kind, EntryKind::Ordinary | EntryKind::Reversal | EntryKind::Disposal);
        let sums = self.postings.iter().filter(|sum| counts(sum.kind) && passes(sum));
        Money::sum(self.books.base, sums.map(|sum| sum.amount))
    }

    /// The year's postings of these classes, debits positive.
    pub(super) fn of_classes(
        &self,
        classes: &[TaxClass],
    ) -> Result<Money, super::super::money::MoneyFinding> {
        self.sum_where(|sum| sum.class.is_some_and(|class| classes.contains(&class)))
    }
}
