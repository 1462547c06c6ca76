//! The journal's ground: accounts, tax classes, postings and balanced entries.

use chrono::{Datelike, NaiveDate};
use serde::Serialize;

use super::ids::MoneyAccountId;
use super::money::{Currency, Money, MoneyFinding};
use super::named::named;
use super::refusal::{Explain, Refusal, Said};

#[cfg(test)]
mod tests;

named! {
    /// Where an income comes from.
    pub enum Stream {
        Sponsorship => "sponsorship",
        Advertising => "advertising",
        Memberships => "memberships",
        Tips => "tips",
        Affiliate => "affiliate",
        Licensing => "licensing",
        Furniture => "furniture",
        Other => "other",
    }
}

impl Stream {
    pub const fn tax_class(self) -> TaxClass {
        match self {
            Self::Sponsorship => TaxClass::Sponsorship,
            Self::Advertising => TaxClass::AdvertisingIncome,
            Self::Memberships => TaxClass::Memberships,
            Self::Tips => TaxClass::Tips,
            Self::Affiliate => TaxClass::Affiliate,
            Self::Licensing => TaxClass::Licensing,
            Self::Furniture => TaxClass::FurnitureSales,
            Self::Other => TaxClass::OtherIncome,
        }
    }
}

named! {
    /// What a posting is to the tax office, in words no form uses; a tax profile maps it to that year's lines.
    pub enum TaxClass {
        Sponsorship => "sponsorship",
        GoodsForPromotion => "goods_for_promotion",
        AdvertisingIncome => "advertising_income",
        Memberships => "memberships",
        Tips => "tips",
        Affiliate => "affiliate",
        Licensing => "licensing",
        FurnitureSales => "furniture_sales",
        OtherIncome => "other_income",
        ReturnsAllowances => "returns_allowances",
        ResalePurchases => "resale_purchases",
        ResaleMaterials => "resale_materials",
        ResaleLabour => "resale_labour",
        ResaleOther => "resale_other",
        Advertising => "advertising",
        Vehicle => "vehicle",
        CommissionsFees => "commissions_fees",
        ContractLabour => "contract_labour",
        Depreciation => "depreciation",
        Insurance => "insurance",
        Interest => "interest",
        LegalProfessional => "legal_professional",
        Office => "office",
        RentEquipment => "rent_equipment",
        RentProperty => "rent_property",
        Repairs => "repairs",
        Supplies => "supplies",
        TaxesLicences => "taxes_licences",
        Travel => "travel",
        Meals => "meals",
        Utilities => "utilities",
        Wages => "wages",
        HomeOffice => "home_office",
        Software => "software",
        Education => "education",
        BankFees => "bank_fees",
        SmallTools => "small_tools",
        OtherExpense => "other_expense",
        HomeImprovement => "home_improvement",
        HomeRepair => "home_repair",
        Personal => "personal",
        PersonalPropertySale => "personal_property_sale",
        BusinessPropertySale => "business_property_sale",
        OwnerTax => "owner_tax",
    }
}

named! {
    /// The classes a business expense can have; each has an account of its own.
    pub enum ExpenseClass {
        Advertising => "advertising",
        Vehicle => "vehicle",
        CommissionsFees => "commissions_fees",
        ContractLabour => "contract_labour",
        Depreciation => "depreciation",
        Insurance => "insurance",
        Interest => "interest",
        LegalProfessional => "legal_professional",
        Office => "office",
        RentEquipment => "rent_equipment",
        RentProperty => "rent_property",
        Repairs => "repairs",
        Supplies => "supplies",
        TaxesLicences => "taxes_licences",
        Travel => "travel",
        Meals => "meals",
        Utilities => "utilities",
        Wages => "wages",
        HomeOffice => "home_office",
        Software => "software",
        Education => "education",
        BankFees => "bank_fees",
        SmallTools => "small_tools",
        OtherExpense => "other_expense",
    }
}

impl ExpenseClass {
    /// The tax class of the same name.
    pub fn tax_class(self) -> TaxClass {
        TaxClass::named(self.as_str()).unwrap_or(TaxClass::OtherExpense)
    }
}

named! {
    /// What the owner took out of the business, or put in and took to the home.
    pub enum Draw {
        Cash => "cash",
        HomeImprovements => "home_improvements",
        HomeRepairs => "home_repairs",
        PersonalItems => "personal_items",
        TaxPayments => "tax_payments",
    }
}

/// An account of the journal. Its code is its name in the database and on the wire.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Account {
    Money(MoneyAccountId),
    SponsorReceivables,
    PlatformReceivables,
    PlatformReserves,
    MaterialsOnHand,
    PiecesForResale,
    DepositsPaid,
    ToolsAtCost,
    AccumulatedDepreciation,
    Payables,
    SalesTaxCollected,
    DepositsReceived,
    Loans,
    OwnerContribution,
    Draw(Draw),
    OpeningEquity,
    RetainedEarnings,
    Income(Stream),
    GoodsForPromotion,
    ReturnsAllowances,
    BusinessPropertySales,
    CostOfPiecesSold,
    Expense(ExpenseClass),
}

/// Which side an account's balance usually stands on, and which statement it belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AccountType {
    Asset,
    Liability,
    Equity,
    Income,
    Expense,
}

impl AccountType {
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Asset => "asset",
            Self::Liability => "liability",
            Self::Equity => "equity",
            Self::Income => "income",
            Self::Expense => "expense",
        }
    }
}

const FIXED: [(Account, &str, AccountType); 19] = [
    (Account::SponsorReceivables, "sponsor_receivables", AccountType::Asset),
    (Account::PlatformReceivables, "platform_receivables", AccountType::Asset),
    (Account::PlatformReserves, "platform_reserves", AccountType::Asset),
    (Account::MaterialsOnHand, "materials_on_hand", AccountType::Asset),
    (Account::PiecesForResale, "pieces_for_resale", AccountType::Asset),
    (Account::DepositsPaid, "deposits_paid", AccountType::Asset),
    (Account::ToolsAtCost, "tools_at_cost", AccountType::Asset),
    (Account::AccumulatedDepreciation, "accumulated_depreciation", AccountType::Asset),
    (Account::Payables, "payables", AccountType::Liability),
    (Account::SalesTaxCollected, "sales_tax_collected", AccountType::Liability),
    (Account::DepositsReceived, "deposits_received", AccountType::Liability),
    (Account::Loans, "loans", AccountType::Liability),
    (Account::OwnerContribution, "owner_contribution", AccountType::Equity),
    (Account::OpeningEquity, "opening_equity", AccountType::Equity),
    (Account::RetainedEarnings, "retained_earnings", AccountType::Equity),
    (Account::GoodsForPromotion, "goods_for_promotion", AccountType::Income),
    (Account::ReturnsAllowances, "returns_allowances", AccountType::Income),
    (Account::BusinessPropertySales, "business_property_sales", AccountType::Income),
    (Account::CostOfPiecesSold, "cost_of_pieces_sold", AccountType::Expense),
];

impl Account {
    /// Every account that new books start with; money accounts come as they are opened.
    pub fn starters() -> Vec<Account> {
        let mut all: Vec<_> = FIXED.iter().map(|(account, ..)| *account).collect();
        all.extend(Draw::ALL.iter().map(|draw| Self::Draw(*draw)));
        all.extend(Stream::ALL.iter().map(|stream| Self::Income(*stream)));
        all.extend(ExpenseClass::ALL.iter().map(|class| Self::Expense(*class)));
        all
    }

    pub fn code(self) -> String {
        match self {
            Self::Money(id) => format!("money:{id}"),
            Self::Draw(draw) => format!("draw:{draw}"),
            Self::Income(stream) => format!("income:{stream}"),
            Self::Expense(class) => format!("expense:{class}"),
            fixed => FIXED
                .iter()
                .find(|(account, ..)| *account == fixed)
                .map(|(_, code, _)| (*code).to_owned())
                .unwrap_or_default(),
        }
    }

    /// The account of that code.
    pub fn of_code(code: &str) -> Option<Self> {
        match code.split_once(':') {
            Some(("money", id)) => id.parse().ok().map(|id| Self::Money(MoneyAccountId(id))),
            Some(("draw", name)) => Draw::named(name).map(Self::Draw),
            Some(("income", name)) => Stream::named(name).map(Self::Income),
            Some(("expense", name)) => ExpenseClass::named(name).map(Self::Expense),
            _ => FIXED.iter().find(|(_, fixed, _)| *fixed == code).map(|(account, ..)| *account),
        }
    }

    pub fn kind(self) -> AccountType {
        match self {
            Self::Money(_) => AccountType::Asset,
            Self::Draw(_) => AccountType::Equity,
            Self::Income(_) => AccountType::Income,
            Self::Expense(_) => AccountType::Expense,
            fixed => FIXED
                .iter()
                .find(|(account, ..)| *account == fixed)
                .map_or(AccountType::Asset, |(.., kind)| *kind),
        }
    }

    /// Whether a cost source's movements stand behind this account (invariant 6): what is attributed to
    /// episodes comes from here. Depreciation and its contra account are bridged, not mixed.
    pub const fn carries_costs(self) -> bool {
        match self {
            Self::MaterialsOnHand | Self::PiecesForResale | Self::ToolsAtCost | Self::CostOfPiecesSold => {
                true
            }
            Self::Expense(class) => !matches!(class, ExpenseClass::Depreciation),
            Self::Draw(draw) => {
                matches!(draw, Draw::HomeImprovements | Draw::HomeRepairs | Draw::PersonalItems)
            }
            _ => false,
        }
    }
}

impl Serialize for Account {
    fn serialize<S: serde::Serializer>(&self, out: S) -> Result<S::Ok, S::Error> {
        out.serialize_str(&self.code())
    }
}

named! {
    /// Why an entry stands in the journal.
    pub enum EntryKind {
        Ordinary => "ordinary",
        Opening => "opening",
        Reversal => "reversal",
        /// Year-end depreciation and the small-tool election: kept out of cost statements.
        Depreciation => "depreciation",
        /// A thing leaves the books: what was attributed of it before stays with its episodes.
        Disposal => "disposal",
        Closing => "closing",
    }
}

impl EntryKind {
    /// Whether movements of sources stand behind such an entry, so that it ties to them (invariant 6).
    /// Depreciation is bridged, a disposal clears what was attributed long before, a closing moves nothing.
    /// A reversal ties or not as the entry it takes back.
    pub const fn ties_to_sources(self) -> bool {
        !matches!(self, Self::Depreciation | Self::Disposal | Self::Closing)
    }
}

/// One line of an entry: debits are positive, credits negative, always in the base currency.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Posting {
    pub account: Account,
    pub amount: Money,
    #[serde(rename = "class")]
    pub class: Option<TaxClass>,
    pub tax_year: i32,
}

/// A balanced entry; it can not be built otherwise.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Entry {
    pub date: NaiveDate,
    pub text: String,
    pub kind: EntryKind,
    reverses: Option<i64>,
    postings: Vec<Posting>,
}

impl Entry {
    /// The number of the entry this one takes back.
    pub const fn reverses(&self) -> Option<i64> {
        self.reverses
    }

    pub fn postings(&self) -> &[Posting] {
        &self.postings
    }

    /// Takes back the entry of that number: the same sums the other way round, on `date`; the tax years stay
    /// with their postings.
    pub fn taking_back(number: i64, postings: &[Posting], date: NaiveDate, text: String) -> Entry {
        let postings = postings
            .iter()
            .map(|posting| Posting { amount: posting.amount.negated(), ..posting.clone() })
            .collect();
        Entry { date, text, kind: EntryKind::Reversal, reverses: Some(number), postings }
    }
}

/// An entry that stands in the journal.
#[derive(Clone, Debug)]
pub struct Posted {
    pub number: i64,
    pub date: NaiveDate,
    pub postings: Vec<Posting>,
}

impl Posted {
    /// The same sums the other way round, on its own day or on `from` if that is later.
    pub fn taken_back(&self, from: NaiveDate, what: &str) -> Entry {
        let text = format!("reversal of entry {}: {what}", self.number);
        Entry::taking_back(self.number, &self.postings, self.date.max(from), text)
    }
}

/// An entry being written.
#[derive(Debug)]
pub struct EntryDraft {
    date: NaiveDate,
    text: String,
    kind: EntryKind,
    base: Currency,
    postings: Vec<Posting>,
}

impl EntryDraft {
    pub fn on(date: NaiveDate, text: impl Into<String>, base: Currency) -> Self {
        Self { date, text: text.into(), kind: EntryKind::Ordinary, base, postings: Vec::new() }
    }

    pub fn of_kind(mut self, kind: EntryKind) -> Self {
        self.kind = kind;
        self
    }

    /// Nothing is written for zero; a negative debit is written as a credit.
    pub fn debit(&mut self, account: Account, amount: Money, class: impl Into<Option<TaxClass>>) {
        self.debit_for_year(account, amount, class, self.date.year());
    }

    /// A debit that belongs to another tax year than its day: a fourth estimated payment made in January,
    /// income of a year that is closed.
    pub fn debit_for_year(
        &mut self,
        account: Account,
        amount: Money,
        class: impl Into<Option<TaxClass>>,
        tax_year: i32,
    ) {
        if !amount.is_zero() {
            self.postings.push(Posting { account, amount, class: class.into(), tax_year });
        }
    }

    pub fn credit(&mut self, account: Account, amount: Money, class: impl Into<Option<TaxClass>>) {
        self.debit(account, amount.negated(), class);
    }

    /// What a rate moved between the day a sum was booked and the day it was settled: a gain is other income, a loss,
    /// which is negative, a cost.
    /// # Source
    /// IAS 21 par. 28 (differences on settlement go to profit or loss), from memory.
    pub fn exchange(&mut self, gain: Money) {
        if gain.is_negative() {
            let loss = gain.negated();
            self.debit(Account::Expense(ExpenseClass::OtherExpense), loss, TaxClass::OtherExpense);
        } else {
            self.credit(Account::Income(Stream::Other), gain, TaxClass::OtherIncome);
        }
    }

    /// The entry, or none where nothing moves.
    /// # Errors
    /// [`JournalFinding::Unbalanced`]: a fault of the rule that wrote it, never stored.
    pub fn close(self) -> Result<Option<Entry>, Refusal> {
        let sum = Money::sum(self.base, self.postings.iter().map(|posting| posting.amount))?;
        if !sum.is_zero() {
            return Err(JournalFinding::Unbalanced { text: self.text, sum }.into());
        }
        let Self { date, text, kind, postings, .. } = self;
        Ok((!postings.is_empty()).then_some(Entry { date, text, kind, reverses: None, postings }))
    }
}

/// What can be wrong with an entry.
#[derive(Clone, Debug, PartialEq)]
pub enum JournalFinding {
    Unbalanced { text: String, sum: Money },
    ClosedPeriod { date: NaiveDate, first_open: NaiveDate },
}

impl Explain for JournalFinding {
    fn say(&self) -> Said {
        match self {
            Self::Unbalanced { text, sum } => Said::invalid(
                format!("the entry '{text}' is out of balance by {sum}"),
                "check that the amounts add up; if they do, this is a fault of ours: please report it",
            ),
            Self::ClosedPeriod { date, first_open } => Said::conflict(
                format!("{date} lies in a closed period; the first open day is {first_open}"),
                "date it on an open day, or reopen the period first (POST /v1/books/reopening)",
            ),
        }
    }
}

/// # Errors
/// [`MoneyFinding`] if the sum is too large.
pub fn balance_of(entries: &[Entry], account: Account, base: Currency) -> Result<Money, MoneyFinding> {
    let postings = entries.iter().flat_map(Entry::postings).filter(|posting| posting.account == account);
    Money::sum(base, postings.map(|posting| posting.amount))
}
