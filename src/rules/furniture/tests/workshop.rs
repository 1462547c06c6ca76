//! A workshop that acquires and sells, and checks that every recording ties.

use chrono::NaiveDate;
use rust_decimal::Decimal;
use uuid::Uuid;

use super::super::super::ids::{EpisodeId, IdSource, MoneyAccountId, ProjectId, RecordId};
use super::super::super::journal::{Account, TaxClass};
use super::super::super::money::{Amount, Currency, Money};
use super::super::super::recording::{
    AccountingMethod, BooksFacts, Category, CostObject, Label, MaterialsFlow, MaterialsTiming, MoneyAccount,
    MoneyAccountKind, Pen, Recording, Side,
};
use super::super::super::refusal::Refusal;
use super::super::super::rows::{Piece, PieceOrigin, PiecePurpose, PieceSale, Row};
use super::super::{
    Deposits, NewConsignment, NewConversion, NewDeposit, NewDepositEnd, NewFetching, NewLeaving, NewParts,
    NewPiece, NewPieceAndSale, NewPieceLot, NewRefund, NewSale, NewSwap, PieceCost, PieceFacts, SoldFacts,
    SoldSource, acquire, acquire_lot, consign, convert, fetch_back, leave, refund, sell, sell_unrecorded,
    settle_deposit, swap, take_apart, take_deposit,
};

pub const EPISODE: CostObject = CostObject::Episode(EpisodeId(Uuid::from_u128(0xa)));
pub const PROJECT: CostObject = CostObject::Project(ProjectId(Uuid::from_u128(0xc)));

struct Counter(u128);

impl IdSource for Counter {
    fn next(&mut self) -> Uuid {
        self.0 += 1;
        Uuid::from_u128(self.0)
    }
}

pub fn dollars() -> Currency {
    Currency::find("USD").unwrap()
}

pub fn dec(text: &str) -> Decimal {
    text.parse().unwrap()
}

pub fn usd(text: &str) -> Money {
    Money::exact(dec(text), dollars()).unwrap()
}

pub fn amount(text: &str) -> Amount {
    Amount::parse(text).unwrap()
}

pub fn day(year: i32, month: u32, day: u32) -> NaiveDate {
    NaiveDate::from_ymd_opt(year, month, day).unwrap()
}

pub fn project() -> ProjectId {
    ProjectId(Uuid::from_u128(0xc))
}

fn episode() -> EpisodeId {
    EpisodeId(Uuid::from_u128(0xa))
}

pub fn bank() -> MoneyAccount {
    let id = MoneyAccountId(Uuid::from_u128(0xe));
    MoneyAccount { id, kind: MoneyAccountKind::Bank, currency: dollars() }
}

pub struct Workshop {
    pub paid_into: MoneyAccount,
    books: BooksFacts,
    ids: Counter,
}

impl Workshop {
    pub fn new() -> Self {
        let books = BooksFacts {
            base: dollars(),
            method: AccountingMethod::Cash,
            timing: MaterialsTiming::WhenUsed,
            flow: MaterialsFlow::Fifo,
            began_on: chrono::NaiveDate::from_ymd_opt(2020, 1, 1).unwrap(),
            first_open: day(2025, 1, 1),
        };
        Self { paid_into: bank(), books, ids: Counter(0x1000) }
    }

    pub fn acquires(&mut self, new: &NewPiece) -> Result<Recording, Refusal> {
        let mut pen = Pen { books: &self.books, ids: &mut self.ids };
        checked(acquire(&mut pen, new.paid_from.map(|_| bank()), new))
    }

    pub fn sells(&mut self, facts: &PieceFacts, sale: &NewSale) -> Result<Recording, Refusal> {
        let mut pen = Pen { books: &self.books, ids: &mut self.ids };
        checked(sell(&mut pen, facts, self.paid_into, sale))
    }

    pub fn buys_lot(&mut self, new: &NewPieceLot) -> Result<Recording, Refusal> {
        let mut pen = Pen { books: &self.books, ids: &mut self.ids };
        checked(acquire_lot(&mut pen, bank(), new))
    }

    pub fn takes_apart(&mut self, facts: &PieceFacts, new: &NewParts) -> Result<Recording, Refusal> {
        let mut pen = Pen { books: &self.books, ids: &mut self.ids };
        checked(take_apart(&mut pen, facts, new))
    }

    pub fn lets_go(&mut self, facts: &PieceFacts, new: &NewLeaving) -> Result<Recording, Refusal> {
        let mut pen = Pen { books: &self.books, ids: &mut self.ids };
        checked(leave(&mut pen, facts, new))
    }

    pub fn converts(&mut self, facts: &PieceFacts, new: &NewConversion) -> Result<Recording, Refusal> {
        let mut pen = Pen { books: &self.books, ids: &mut self.ids };
        checked(convert(&mut pen, facts, new))
    }

    pub fn swaps(&mut self, facts: &PieceFacts, new: &NewSwap) -> Result<Recording, Refusal> {
        let mut pen = Pen { books: &self.books, ids: &mut self.ids };
        checked(swap(&mut pen, facts, new.money_account.map(|_| self.paid_into), new))
    }

    pub fn takes_deposit(&mut self, facts: &PieceFacts, new: &NewDeposit) -> Result<Recording, Refusal> {
        let mut pen = Pen { books: &self.books, ids: &mut self.ids };
        checked(take_deposit(&mut pen, facts, bank(), new))
    }

    pub fn settles_deposit(&mut self, facts: &PieceFacts, new: &NewDepositEnd) -> Result<Recording, Refusal> {
        let mut pen = Pen { books: &self.books, ids: &mut self.ids };
        checked(settle_deposit(&mut pen, facts, new.paid_from.map(|_| bank()), new))
    }

    pub fn consigns(&mut self, facts: &PieceFacts, new: &NewConsignment) -> Result<Recording, Refusal> {
        let mut pen = Pen { books: &self.books, ids: &mut self.ids };
        checked(consign(&mut pen, facts, new))
    }

    pub fn fetches(&mut self, facts: &PieceFacts, new: &NewFetching) -> Result<Recording, Refusal> {
        let mut pen = Pen { books: &self.books, ids: &mut self.ids };
        checked(fetch_back(&mut pen, facts, new))
    }

    /// Unchecked by itself: the sources that it takes from stand in the sale.
    pub fn refunds(
        &mut self,
        facts: &PieceFacts,
        sold: Option<&SoldFacts>,
        new: &NewRefund,
    ) -> Result<Recording, Refusal> {
        let mut pen = Pen { books: &self.books, ids: &mut self.ids };
        refund(&mut pen, facts, sold, self.paid_into, new)
    }

    pub fn sells_unrecorded(&mut self, both: &NewPieceAndSale) -> Result<Recording, Refusal> {
        let mut pen = Pen { books: &self.books, ids: &mut self.ids };
        checked(sell_unrecorded(&mut pen, both.paid_from.map(|_| bank()), self.paid_into, both))
    }
}

/// An oak dresser bought for an episode.
pub fn for_resale(price: &str, date: NaiveDate) -> NewPiece {
    NewPiece {
        name: "oak dresser".to_owned(),
        date,
        origin: PieceOrigin::Bought,
        purpose: PiecePurpose::Resale,
        acquired_on: None,
        basis: Some(amount(price)),
        basis_unknown: false,
        value: None,
        evidence: None,
        paid_from: Some(bank().id),
        episode: Some(episode()),
        project: None,
        expense_class: None,
        party: None,
        currency: None,
        rate: None,
        note: None,
    }
}

/// A bench that was the owner's before, brought in on 1 March 2025.
pub fn owned(purpose: PiecePurpose) -> NewPiece {
    NewPiece {
        name: "kitchen bench".to_owned(),
        origin: PieceOrigin::AlreadyOwned,
        purpose,
        acquired_on: Some(day(2020, 8, 1)),
        basis: None,
        paid_from: None,
        ..for_resale("1.00", day(2025, 3, 1))
    }
}

pub fn sale(gross: &str, fees: &str, date: NaiveDate) -> NewSale {
    NewSale {
        date,
        gross: amount(gross),
        fees: Some(amount(fees)),
        paid_into: bank().id,
        party: None,
        episode: Some(episode()),
        project: None,
        sales_tax_collected: None,
        sales_tax_by_marketplace: None,
        currency: None,
        rate: None,
        note: None,
    }
}

/// The least that a person says: what, when, for how much, into which purse and for which episode.
pub fn unrecorded(name: &str, gross: &str, date: NaiveDate) -> NewPieceAndSale {
    NewPieceAndSale {
        name: name.to_owned(),
        date,
        gross: amount(gross),
        paid_into: bank().id,
        origin: None,
        purpose: None,
        acquired_on: None,
        basis: None,
        basis_unknown: false,
        value: None,
        evidence: None,
        paid_from: None,
        expense_class: None,
        fees: None,
        party: None,
        episode: Some(episode()),
        project: None,
        sales_tax_collected: None,
        sales_tax_by_marketplace: None,
        currency: None,
        rate: None,
        note: None,
    }
}

pub fn piece_row(rec: &Recording) -> Piece {
    let mut pieces = rec.rows.iter().filter_map(|row| match row {
        Row::Piece(piece) => Some(piece.clone()),
        _ => None,
    });
    pieces.next_back().unwrap()
}

pub fn sale_row(rec: &Recording) -> PieceSale {
    let mut sales = rec.rows.iter().filter_map(|row| match row {
        Row::PieceSale(sale) => Some(sale.clone()),
        _ => None,
    });
    sales.next_back().unwrap()
}

/// All the pieces of `rec`, each with its facts.
pub fn all_facts_of(rec: &Recording) -> Vec<PieceFacts> {
    let pieces = rec.rows.iter().filter_map(|row| match row {
        Row::Piece(piece) => Some(piece.clone()),
        _ => None,
    });
    pieces.map(|piece| facts_of_piece(rec, piece)).collect()
}

/// The facts that the store would give back after `rec`.
pub fn facts_of(rec: &Recording) -> PieceFacts {
    facts_of_piece(rec, piece_row(rec))
}

fn facts_of_piece(rec: &Recording, piece: Piece) -> PieceFacts {
    let record = RecordId(Uuid::from_u128(0xf0));
    let costs = rec.movements.iter().filter(|one| one.source == piece.source);
    let costs = costs.map(|one| PieceCost { record, date: one.date, amount: one.amount }).collect();
    let attributed = rec.attributions.iter().filter(|one| one.source == piece.source);
    let attributed = Money::sum(dollars(), attributed.map(|one| one.amount)).unwrap();
    let given = rec.attributions.iter().filter(|one| one.source == piece.source);
    let given = given.map(|one| (one.object, one.label, one.amount)).collect();
    PieceFacts {
        piece,
        record,
        since: None,
        costs,
        attributed,
        given,
        last_given: None,
        sale: None,
        left: None,
        gone_until: None,
        came_back: None,
        deposits: Deposits { held: usd("0"), records: Vec::new(), last: None },
        consigned: None,
    }
}

/// Materials or labour of a later record.
pub fn puts_into(facts: &mut PieceFacts, cost: &str, date: NaiveDate) {
    let record = RecordId(Uuid::from_u128(0xf1));
    facts.costs.push(PieceCost { record, date, amount: usd(cost) });
}

pub fn pointers(refusal: &Refusal) -> Vec<String> {
    refusal.findings().map(|found| found.pointer.clone()).collect()
}

pub fn posted(rec: &Recording, account: Account) -> Money {
    let postings = rec.entries.iter().flat_map(|entry| entry.postings());
    Money::sum(dollars(), postings.filter(|one| one.account == account).map(|one| one.amount)).unwrap()
}

/// What is attributed of the sources of a side; a piece's own source may stand in an earlier recording.
pub fn attributed(rec: &Recording, side: Side) -> Money {
    let side_of = |source| rec.sources.iter().find(|one| one.id == source).map_or(Side::Cost, |one| one.side);
    let rows = rec.attributions.iter().filter(|one| side_of(one.source) == side);
    Money::sum(dollars(), rows.map(|one| one.amount)).unwrap()
}

/// Every entry's postings stand behind the movements that name it, side by side.
fn checked(rec: Result<Recording, Refusal>) -> Result<Recording, Refusal> {
    let rec = rec?;
    for (place, entry) in rec.entries.iter().enumerate() {
        let moved = |sides: &[Side]| {
            let side_of =
                |source| rec.sources.iter().find(|one| one.id == source).map_or(Side::Cost, |one| one.side);
            let named = rec.movements.iter().filter(|one| one.entry == Some(place));
            let named = named.filter(|one| sides.contains(&side_of(one.source)));
            Money::sum(dollars(), named.map(|one| one.amount)).unwrap()
        };
        let sum = |of: &dyn Fn(Account, Option<TaxClass>) -> bool| {
            let postings = entry.postings().iter().filter(|one| of(one.account, one.class));
            Money::sum(dollars(), postings.map(|one| one.amount)).unwrap()
        };
        assert_eq!(sum(&|account, _| account.carries_costs()), moved(&[Side::Cost, Side::Fee]));
        let income = sum(&|account, _| matches!(account, Account::Income(_) | Account::GoodsForPromotion));
        assert_eq!(income.negated(), moved(&[Side::Income, Side::InKind]));
        let back = sum(&|_, class| {
            matches!(class, Some(TaxClass::PersonalPropertySale | TaxClass::BusinessPropertySale))
        });
        assert_eq!(back.negated(), moved(&[Side::Recovery]));
    }
    Ok(rec)
}

/// A bench of the owner's that cost nothing anybody knows of.
pub fn owned_for_nothing(purpose: PiecePurpose) -> NewPiece {
    NewPiece { basis_unknown: true, ..owned(purpose) }
}

/// The facts of a sale that the store would give back after `rec`.
pub fn sold_facts_of(rec: &Recording) -> SoldFacts {
    let given = |source| {
        let rows = rec.attributions.iter().filter(move |one| one.source == source);
        rows.map(|one| (one.object, one.amount)).collect::<Vec<_>>()
    };
    let sale = sale_row(rec);
    let left = |source| {
        let moved = rec.movements.iter().filter(|one| one.source == source).map(|one| one.amount);
        Money::sum(dollars(), moved).unwrap()
    };
    let sources = rec.sources.iter().filter(|one| one.side != Side::Cost);
    let sources = sources
        .map(|one| SoldSource {
            source: one.id,
            side: one.side,
            left: left(one.id),
            attributed: given(one.id),
        })
        .collect();
    let cost = rec.attributions.iter().filter(|one| one.label == Label::Category(Category::PiecesSold));
    SoldFacts {
        record: RecordId(Uuid::from_u128(0xf2)),
        sources,
        refunded: usd("0"),
        fees_back: usd("0"),
        cost_given: cost.map(|one| (one.object, one.label, one.amount)).collect(),
        last: Some(sale.date),
        sale,
    }
}
