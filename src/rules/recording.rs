//! A recording: everything one request writes, decided by the rules and stored by the one write path.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::ids::{EpisodeId, IdSource, MoneyAccountId, PartyId, ProjectId, RecordId, SourceId};
use super::journal::{Account, Draw, Entry, EntryDraft, JournalFinding, Stream, TaxClass};
use super::money::{Currency, Money};
use super::named::named;
use super::refusal::{Explain, Refusal, Said};
use super::rows::Row;

#[cfg(test)]
mod tests;

named! {
    /// The trade's words: each names a file in every room, a path of the API and a kind of record.
    pub enum Word {
        Books => "books",
        Tokens => "tokens",
        Accounts => "accounts",
        Parties => "parties",
        Projects => "projects",
        Episodes => "episodes",
        Openings => "openings",
        Purchases => "purchases",
        Materials => "materials",
        Tools => "tools",
        Furniture => "furniture",
        Labour => "labour",
        Trips => "trips",
        Gifts => "gifts",
        Deals => "deals",
        Documents => "documents",
        Payouts => "payouts",
        Attributions => "attributions",
        Entries => "entries",
        TaxYears => "tax_years",
    }
}

named! {
    /// When an income or a cost counts.
    pub enum AccountingMethod { Cash => "cash", Accrual => "accrual" }
}

named! {
    /// When materials become a deduction: as they are used, or as they are paid for (incidental ones).
    pub enum MaterialsTiming { WhenUsed => "when_used", WhenPaid => "when_paid" }
}

named! {
    /// Which layer of a material leaves first.
    pub enum MaterialsFlow { Fifo => "fifo", MovingAverage => "moving_average" }
}

/// What the rules need to know of the books a record goes to.
#[derive(Clone, Debug)]
pub struct BooksFacts {
    pub base: Currency,
    pub method: AccountingMethod,
    pub timing: MaterialsTiming,
    pub flow: MaterialsFlow,
    /// The day the books begin; what has no day of its own is recorded under it.
    pub began_on: NaiveDate,
    /// The first day that takes entries.
    pub first_open: NaiveDate,
}

/// What the rules write with: the books' facts and a supply of ids.
pub struct Pen<'a> {
    pub books: &'a BooksFacts,
    pub ids: &'a mut dyn IdSource,
}

impl Pen<'_> {
    pub fn base(&self) -> Currency {
        self.books.base
    }

    pub fn new_source(&mut self) -> SourceId {
        SourceId(self.ids.next())
    }

    /// # Errors
    /// [`JournalFinding::ClosedPeriod`] at `/date`.
    pub fn open_day(&self, date: NaiveDate) -> Result<NaiveDate, Refusal> {
        let first_open = self.books.first_open;
        if date < first_open {
            return Err(Refusal::new("/date", JournalFinding::ClosedPeriod { date, first_open }));
        }
        Ok(date)
    }

    /// The day that what is stated for a tax year is kept under: the last of it, which has to be open; for a year
    /// before the books, their first day has to be. Years that no table of the books holds are out of reach.
    /// # Errors
    /// [`RecordFinding::YearClosed`], [`RecordFinding::YearOutOfReach`].
    pub fn open_year(&self, year: i32) -> Result<NaiveDate, RecordFinding> {
        let days = NaiveDate::from_ymd_opt(year, 12, 31).filter(|_| (1900..=2200).contains(&year));
        let last = days.ok_or(RecordFinding::YearOutOfReach { year })?;
        let first_open = self.books.first_open;
        if last.max(self.books.began_on) < first_open {
            return Err(RecordFinding::YearClosed { year, first_open });
        }
        Ok(last)
    }

    pub fn entry(&self, date: NaiveDate, text: impl Into<String>) -> EntryDraft {
        EntryDraft::on(date, text, self.base())
    }
}

/// Where money sits or comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MoneyAccount {
    pub id: MoneyAccountId,
    pub kind: MoneyAccountKind,
    pub currency: Currency,
}

named! {
    /// The kinds of money account.
    pub enum MoneyAccountKind {
        Bank => "bank",
        Card => "card",
        Cash => "cash",
        /// The owner's private purse: what it pays is a contribution, what it keeps is a draw.
        OwnPocket => "own_pocket",
        StoreCredit => "store_credit",
        Platform => "platform",
    }
}

impl MoneyAccount {
    /// The account to credit when it pays.
    pub const fn paying(self) -> Account {
        match self.kind {
            MoneyAccountKind::OwnPocket => Account::OwnerContribution,
            _ => Account::Money(self.id),
        }
    }

    /// The account to debit when it receives.
    pub const fn receiving(self) -> Account {
        match self.kind {
            MoneyAccountKind::OwnPocket => Account::Draw(Draw::Cash),
            _ => Account::Money(self.id),
        }
    }
}

/// What a cost or an income belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum CostObject {
    Episode(EpisodeId),
    Project(ProjectId),
}

named! {
    /// The lines of a cost statement.
    pub enum Category {
        Materials => "materials",
        Furniture => "furniture",
        PiecesSold => "pieces_sold",
        Tools => "tools",
        PaidLabour => "paid_labour",
        Trips => "trips",
        Services => "services",
        PermitsDelivery => "permits_delivery",
        Other => "other",
        Overhead => "overhead",
    }
}

impl Category {
    /// Where a cost of that class stands unless the person says otherwise.
    pub const fn usual_for(class: TaxClass) -> Self {
        match class {
            TaxClass::Supplies
            | TaxClass::ResaleMaterials
            | TaxClass::HomeImprovement
            | TaxClass::HomeRepair => Self::Materials,
            TaxClass::ResalePurchases => Self::Furniture,
            TaxClass::SmallTools | TaxClass::RentEquipment => Self::Tools,
            TaxClass::ContractLabour | TaxClass::Wages | TaxClass::ResaleLabour => Self::PaidLabour,
            TaxClass::Vehicle | TaxClass::Travel => Self::Trips,
            TaxClass::LegalProfessional | TaxClass::Software | TaxClass::Advertising => Self::Services,
            TaxClass::TaxesLicences => Self::PermitsDelivery,
            _ => Self::Other,
        }
    }
}

named! {
    /// Which part of a statement a source feeds.
    pub enum Side {
        Cost => "cost",
        Income => "income",
        /// Income received in goods; shown apart.
        InKind => "in_kind",
        /// What a platform, an agency or a bank kept of an income.
        Fee => "fee",
        /// What came back of a cost: a personal or set piece sold.
        Recovery => "recovery",
    }
}

named! {
    /// What a source is.
    pub enum SourceKind {
        PurchaseLine => "purchase_line",
        Lot => "lot",
        Tool => "tool",
        Piece => "piece",
        PieceSold => "piece_sold",
        PaidLabour => "paid_labour",
        Trip => "trip",
        Gift => "gift",
        Instalment => "instalment",
        /// What was invoiced to a sponsor, in accrual books.
        Invoice => "invoice",
        /// What a rate moved between an invoice and its payment.
        Exchange => "exchange",
        Payout => "payout",
        Opening => "opening",
        /// What a bank took for a transfer, or the interest on a loan.
        AccountCharge => "account_charge",
    }
}

/// Where costs, incomes, fees and recoveries come from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Source {
    pub id: SourceId,
    pub side: Side,
    pub kind: SourceKind,
    pub text: String,
}

named! {
    /// What happened to a source (invariant 6).
    pub enum MovementKind {
        Opening => "opening",
        Incurred => "incurred",
        Returned => "returned",
        /// Left for another source, for private use or for good, without being attributed.
        Removed => "removed",
    }
}

/// A dated change of a source; `amount` is positive for opening and incurred, negative for returned and removed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Movement {
    pub source: SourceId,
    pub date: NaiveDate,
    pub kind: MovementKind,
    pub amount: Money,
    /// Which of the recording's entries stands behind it, counted from zero; none for memo records.
    pub entry: Option<usize>,
}

/// What an attributed amount is called on a statement.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Label {
    Category(Category),
    Stream(Stream),
    PersonalPieceSold,
    SetPieceSold,
}

impl Label {
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Category(category) => category.as_str(),
            Self::Stream(stream) => stream.as_str(),
            Self::PersonalPieceSold => "personal_piece_sold",
            Self::SetPieceSold => "set_piece_sold",
        }
    }

    /// A recovery or category or stream of that name; the two sets of names are kept apart by `side`.
    pub fn named(side: Side, text: &str) -> Option<Self> {
        match (side, text) {
            (Side::Recovery, "personal_piece_sold") => Some(Self::PersonalPieceSold),
            (Side::Recovery, "set_piece_sold") => Some(Self::SetPieceSold),
            (Side::Cost, _) => Category::named(text).map(Self::Category),
            (Side::Income | Side::InKind | Side::Fee, _) => Stream::named(text).map(Self::Stream),
            (Side::Recovery, _) => None,
        }
    }
}

/// A dated row that assigns a share of one source to an episode or project; a correction is negative.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Attribution {
    pub source: SourceId,
    pub date: NaiveDate,
    pub object: CostObject,
    pub label: Label,
    pub amount: Money,
}

/// Everything one request writes.
#[derive(Clone, Debug)]
pub struct Recording {
    pub word: Word,
    /// What kind of record of that word: a purchase, its return, a sale.
    pub kind: &'static str,
    pub date: NaiveDate,
    pub text: String,
    pub party: Option<PartyId>,
    pub rows: Vec<Row>,
    pub entries: Vec<Entry>,
    pub sources: Vec<Source>,
    pub movements: Vec<Movement>,
    pub attributions: Vec<Attribution>,
    /// Episodes and projects to find the record by, beside those of its attributions.
    pub about: Vec<CostObject>,
    pub streams: Vec<Stream>,
    /// Records that can not be reversed while this one stands.
    pub depends_on: Vec<RecordId>,
    /// Records this one takes back.
    pub reverses: Vec<RecordId>,
    /// The record that was taken back and that this one stands in for.
    pub replaces: Option<RecordId>,
    /// The answer's remarks, in words.
    pub notes: Vec<String>,
}

impl Recording {
    pub fn new(word: Word, kind: &'static str, date: NaiveDate, text: impl Into<String>) -> Self {
        Self {
            word,
            kind,
            date,
            text: text.into(),
            party: None,
            rows: Vec::new(),
            entries: Vec::new(),
            sources: Vec::new(),
            movements: Vec::new(),
            attributions: Vec::new(),
            about: Vec::new(),
            streams: Vec::new(),
            depends_on: Vec::new(),
            reverses: Vec::new(),
            replaces: None,
            notes: Vec::new(),
        }
    }

    /// Adds an entry and says at which place it stands; none where nothing moved.
    /// # Errors
    /// [`JournalFinding::Unbalanced`].
    pub fn post(&mut self, draft: EntryDraft) -> Result<Option<usize>, Refusal> {
        let Some(entry) = draft.close()? else { return Ok(None) };
        self.entries.push(entry);
        Ok(Some(self.entries.len() - 1))
    }

    /// Adds a source with its first movement.
    pub fn open_source(&mut self, source: Source, date: NaiveDate, amount: Money, entry: Option<usize>) {
        let id = source.id;
        self.sources.push(source);
        self.moves(id, date, MovementKind::Incurred, amount, entry);
    }

    /// Adds the source of what [`EntryDraft::exchange`] wrote, with its side; none for nothing.
    pub fn open_exchange(
        &mut self,
        pen: &mut Pen<'_>,
        text: impl Into<String>,
        (date, gain, entry): (NaiveDate, Money, Option<usize>),
    ) -> Option<(SourceId, Side)> {
        if gain.is_zero() {
            return None;
        }
        let side = if gain.is_negative() { Side::Cost } else { Side::Income };
        if side == Side::Income {
            self.streams.push(Stream::Other);
        }
        let id = pen.new_source();
        let source = Source { id, side, kind: SourceKind::Exchange, text: text.into() };
        self.open_source(source, date, gain.absolute(), entry);
        Some((id, side))
    }

    /// Adds a movement; nothing for zero.
    pub fn moves(
        &mut self,
        source: SourceId,
        date: NaiveDate,
        kind: MovementKind,
        amount: Money,
        entry: Option<usize>,
    ) {
        if !amount.is_zero() {
            self.movements.push(Movement { source, date, kind, amount, entry });
        }
    }

    /// Adds an attribution; nothing for zero.
    pub fn attribute(
        &mut self,
        source: SourceId,
        date: NaiveDate,
        object: CostObject,
        label: Label,
        amount: Money,
    ) {
        if !amount.is_zero() {
            self.attributions.push(Attribution { source, date, object, label, amount });
        }
    }
}

/// Findings about the state that every word can meet.
#[derive(Clone, Debug, PartialEq)]
pub enum RecordFinding {
    Unknown { what: &'static str },
    NeedsText { what: &'static str },
    BeforeItBegan { what: &'static str, began: NaiveDate, date: NaiveDate },
    YearClosed { year: i32, first_open: NaiveDate },
    YearOutOfReach { year: i32 },
}

impl Explain for RecordFinding {
    fn say(&self) -> Said {
        match self {
            Self::Unknown { what } => Said::invalid(
                format!("these books have no {what} of that id"),
                format!("list them with GET /v1/{what}, or record it first"),
            ),
            Self::NeedsText { what } => {
                Said::invalid(format!("the {what} is empty"), format!("give the {what} in a few words"))
            }
            Self::BeforeItBegan { what, began, date } => Said::invalid(
                format!("{date} is before {began}, the day the {what} came"),
                "correct the date",
            ),
            Self::YearClosed { year, first_open } => Said::conflict(
                format!(
                    "what is stated for {year} changes figures of days that are closed; the first open day is {first_open}"
                ),
                "reopen them on record first (POST /v1/books/reopening)",
            ),
            Self::YearOutOfReach { year } => Said::invalid(
                format!("the books hold the years 1900 to 2200, not {year}"),
                "correct the year",
            ),
        }
    }
}

/// The text without the space around it.
/// # Errors
/// [`RecordFinding::NeedsText`] where nothing is left.
pub fn words_of(what: &'static str, text: &str) -> Result<String, RecordFinding> {
    let text = text.trim();
    if text.is_empty() { Err(RecordFinding::NeedsText { what }) } else { Ok(text.to_owned()) }
}
