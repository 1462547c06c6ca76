//! A shelf of lots that keeps what is recorded, so that a test reads like a day's work.

use chrono::NaiveDate;
use rust_decimal::Decimal;
use uuid::Uuid;

use super::super::super::ids::{EpisodeId, IdSource, LotId, PieceId, ProjectId, RecordId, SourceId};
use super::super::super::journal::{Account, ExpenseClass};
use super::super::super::money::{Currency, Money, Quantity};
use super::super::super::pieces::PieceInWork;
use super::super::super::recording::{
    AccountingMethod, Attribution, BooksFacts, Category, CostObject, MaterialsFlow, MaterialsTiming, Pen,
    Recording, Side,
};
use super::super::super::refusal::Refusal;
use super::super::super::rows::{Basis, Lot, LotMove, LotStanding, Piece, PieceOrigin, PiecePurpose, Row};
use super::super::super::treatment::Treatment;
use super::super::{
    LotFacts, LotMoved, NewCount, NewIssue, NewMaterialIssue, NewMaterialReturn, NewWaste, come_back, count,
    issue, issue_by_name, waste,
};

pub const EPISODE_A: CostObject = CostObject::Episode(EpisodeId(Uuid::from_u128(0xa)));
pub const EPISODE_B: CostObject = CostObject::Episode(EpisodeId(Uuid::from_u128(0xb)));

pub struct Counter(pub u128);

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

pub fn quantity(text: &str) -> Quantity {
    Quantity::parse(text).unwrap()
}

pub fn day(year: i32, month: u32, day: u32) -> NaiveDate {
    NaiveDate::from_ymd_opt(year, month, day).unwrap()
}

pub fn project() -> ProjectId {
    ProjectId(Uuid::from_u128(0xc))
}

pub fn episode_of(object: CostObject) -> EpisodeId {
    match object {
        CostObject::Episode(episode) => episode,
        CostObject::Project(_) => panic!("a project"),
    }
}

pub fn piece(purpose: PiecePurpose, treatment: Treatment) -> PieceInWork {
    let piece = Piece {
        id: PieceId(Uuid::from_u128(0xd0)),
        source: SourceId(Uuid::from_u128(0xd1)),
        name: "side table".to_owned(),
        origin: PieceOrigin::Found,
        purpose,
        acquired_on: day(2025, 1, 5),
        basis: Basis::Known(usd("0.00")),
        value: None,
        treatment,
        object: Some(EPISODE_A),
    };
    PieceInWork { piece, record: RecordId(Uuid::from_u128(0xd2)), gone: None }
}

pub struct Shelf {
    pub lots: Vec<LotFacts>,
    pub attributed: Vec<Attribution>,
    books: BooksFacts,
    ids: Counter,
}

impl Shelf {
    pub fn new(flow: MaterialsFlow) -> Self {
        let books = BooksFacts {
            base: dollars(),
            method: AccountingMethod::Cash,
            timing: MaterialsTiming::WhenUsed,
            flow,
            began_on: chrono::NaiveDate::from_ymd_opt(2020, 1, 1).unwrap(),
            first_open: day(2025, 1, 1),
        };
        Self { lots: Vec::new(), attributed: Vec::new(), books, ids: Counter(0x1000) }
    }

    pub fn puts(&mut self, material: &str, quantity: &str, cost: &str, acquired_on: NaiveDate) {
        let lot = Lot {
            id: LotId(self.ids.next()),
            source: SourceId(self.ids.next()),
            material: material.to_owned(),
            unit: "piece".to_owned(),
            bought_in: None,
            quantity: dec(quantity),
            cost: usd(cost),
            acquired_on,
            treatment: Treatment::Expense(ExpenseClass::Supplies),
            category: Category::Materials,
            standing: LotStanding::OnHand,
        };
        let record = RecordId(self.ids.next());
        let recorded_on = lot.acquired_on;
        self.lots.push(LotFacts { lot, record, recorded_on, moves: Vec::new() });
    }

    pub fn ask(&self, quantity_text: &str, date: NaiveDate, to: CostObject) -> NewIssue {
        NewIssue {
            date,
            quantity: quantity(quantity_text),
            unit: None,
            episode: Some(episode_of(to)),
            project: None,
            piece: None,
            to: Vec::new(),
            treatment: None,
            category: None,
            note: None,
        }
    }

    fn keep(&mut self, recording: Result<Recording, Refusal>) -> Result<Recording, Refusal> {
        let rec = recording?;
        ties(&rec);
        let record = RecordId(self.ids.next());
        for row in moves(&rec) {
            let facts = self.lots.iter_mut().find(|facts| facts.lot.id == row.lot).unwrap();
            facts.moves.push(LotMoved { record, row });
        }
        self.attributed.extend(rec.attributions.iter().cloned());
        Ok(rec)
    }

    fn pen<T>(&mut self, writes: impl FnOnce(&Pen<'_>, &[LotFacts], &[Attribution]) -> T) -> T {
        let pen = Pen { books: &self.books, ids: &mut self.ids };
        writes(&pen, &self.lots, &self.attributed)
    }

    pub fn issues_as(
        &mut self,
        lot: usize,
        ask: &NewIssue,
        piece: Option<&PieceInWork>,
    ) -> Result<Recording, Refusal> {
        let rec = self.pen(|pen, lots, _| issue(pen, &lots[lot], piece, ask));
        self.keep(rec)
    }

    pub fn issues(
        &mut self,
        lot: usize,
        quantity: &str,
        date: NaiveDate,
        to: CostObject,
    ) -> Result<Recording, Refusal> {
        let ask = self.ask(quantity, date, to);
        self.issues_as(lot, &ask, None)
    }

    pub fn issues_into(
        &mut self,
        work: &PieceInWork,
        quantity: &str,
        date: NaiveDate,
    ) -> Result<Recording, Refusal> {
        let ask =
            NewIssue { episode: None, piece: Some(work.piece.id), ..self.ask(quantity, date, EPISODE_A) };
        self.issues_as(0, &ask, Some(work))
    }

    pub fn tries_by_name(
        &mut self,
        quantity_text: &str,
        date: NaiveDate,
        to: CostObject,
    ) -> Result<Recording, Refusal> {
        let ask = by_name(quantity_text, date, to);
        let rec = self.pen(|pen, lots, _| issue_by_name(pen, lots, None, &ask));
        self.keep(rec)
    }

    pub fn issues_by_name(&mut self, quantity_text: &str, date: NaiveDate, to: CostObject) -> Recording {
        self.tries_by_name(quantity_text, date, to).unwrap()
    }

    pub fn refuses_by_name(&self, quantity_text: &str, date: NaiveDate) -> Refusal {
        let pen = Pen { books: &self.books, ids: &mut Counter(0x9000) };
        issue_by_name(&pen, &self.lots, None, &by_name(quantity_text, date, EPISODE_A)).unwrap_err()
    }

    pub fn tries_by_name_in(
        &mut self,
        quantity_text: &str,
        unit: &str,
        date: NaiveDate,
    ) -> Result<Recording, Refusal> {
        let ask = NewMaterialIssue { unit: Some(unit.to_owned()), ..by_name(quantity_text, date, EPISODE_A) };
        let rec = self.pen(|pen, lots, _| issue_by_name(pen, lots, None, &ask));
        self.keep(rec)
    }

    pub fn refuses_by_name_in(&self, quantity_text: &str, unit: &str, date: NaiveDate) -> Refusal {
        let pen = Pen { books: &self.books, ids: &mut Counter(0x9000) };
        let ask = NewMaterialIssue { unit: Some(unit.to_owned()), ..by_name(quantity_text, date, EPISODE_A) };
        issue_by_name(&pen, &self.lots, None, &ask).unwrap_err()
    }

    pub fn writes(
        &mut self,
        rule: impl FnOnce(&Pen<'_>, &[LotFacts]) -> Result<Recording, Refusal>,
    ) -> Result<Recording, Refusal> {
        let rec = self.pen(|pen, lots, _| rule(pen, lots));
        self.keep(rec)
    }

    pub fn comes_back_as(&mut self, lot: usize, back: &NewMaterialReturn) -> Result<Recording, Refusal> {
        let rec = self.pen(|pen, lots, attributed| come_back(pen, &lots[lot], None, attributed, back));
        self.keep(rec)
    }

    pub fn comes_back_from(
        &mut self,
        work: &PieceInWork,
        quantity_text: &str,
        date: NaiveDate,
    ) -> Result<Recording, Refusal> {
        let back = NewMaterialReturn {
            date,
            quantity: quantity(quantity_text),
            unit: None,
            episode: None,
            project: None,
            piece: Some(work.piece.id),
            treatment: None,
            note: None,
        };
        let rec = self.pen(|pen, lots, attributed| come_back(pen, &lots[0], Some(work), attributed, &back));
        self.keep(rec)
    }

    pub fn comes_back_to(
        &mut self,
        lot: usize,
        quantity_text: &str,
        date: NaiveDate,
        from: CostObject,
    ) -> Result<Recording, Refusal> {
        let back = NewMaterialReturn {
            date,
            quantity: quantity(quantity_text),
            unit: None,
            episode: Some(episode_of(from)),
            project: None,
            piece: None,
            treatment: None,
            note: None,
        };
        self.comes_back_as(lot, &back)
    }

    pub fn comes_back(
        &mut self,
        quantity: &str,
        date: NaiveDate,
        from: CostObject,
    ) -> Result<Recording, Refusal> {
        self.comes_back_to(0, quantity, date, from)
    }

    pub fn wastes(&mut self, quantity_text: &str, date: NaiveDate) -> Result<Recording, Refusal> {
        let ask = NewWaste {
            date,
            quantity: quantity(quantity_text),
            unit: None,
            episode: None,
            project: None,
            treatment: None,
            category: None,
            note: None,
        };
        let rec = self.pen(|pen, lots, _| waste(pen, &lots[0], &ask));
        self.keep(rec)
    }

    pub fn counts(&mut self, counted: &str, date: NaiveDate) -> Result<Recording, Refusal> {
        let ask = NewCount { date, counted: quantity(counted), unit: None, note: None };
        let rec = self.pen(|pen, lots, _| count(pen, &lots[0], &ask));
        self.keep(rec)
    }

    pub fn cost_left(&self) -> Money {
        Money::sum(dollars(), self.lots.iter().map(|facts| facts.remaining().unwrap().cost)).unwrap()
    }
}

pub fn by_name(quantity_text: &str, date: NaiveDate, to: CostObject) -> NewMaterialIssue {
    NewMaterialIssue {
        material: "tiles".to_owned(),
        date,
        quantity: quantity(quantity_text),
        unit: None,
        episode: Some(episode_of(to)),
        project: None,
        piece: None,
        to: Vec::new(),
        treatment: None,
        category: None,
        note: None,
    }
}

pub fn moves(rec: &Recording) -> Vec<LotMove> {
    rec.rows
        .iter()
        .filter_map(|row| match row {
            Row::LotMove(row) => Some(row.clone()),
            _ => None,
        })
        .collect()
}

/// The record of the last move of a lot that put something back.
pub fn back_record(shelf: &Shelf, lot: usize) -> RecordId {
    shelf.lots[lot].moves.iter().rfind(|moved| moved.row.quantity > Decimal::ZERO).unwrap().record
}

pub fn cost_out(rec: &Recording) -> Money {
    Money::sum(dollars(), moves(rec).iter().map(|row| row.cost)).unwrap().negated()
}

pub fn posted(rec: &Recording, account: Account) -> Money {
    let postings = rec.entries.iter().flat_map(|entry| entry.postings());
    Money::sum(dollars(), postings.filter(|one| one.account == account).map(|one| one.amount)).unwrap()
}

pub fn attributed(rec: &Recording, object: CostObject) -> Money {
    let rows = rec.attributions.iter().filter(|one| one.object == object);
    Money::sum(dollars(), rows.map(|one| one.amount)).unwrap()
}

/// Every entry's cost accounts move by what its cost sources move by.
pub fn ties(rec: &Recording) {
    let is_cost = |source: SourceId| {
        rec.sources.iter().find(|one| one.id == source).is_none_or(|one| one.side == Side::Cost)
    };
    for (place, entry) in rec.entries.iter().enumerate() {
        let posted = entry.postings().iter().filter(|one| one.account.carries_costs());
        let moved = rec.movements.iter().filter(|one| one.entry == Some(place) && is_cost(one.source));
        assert_eq!(
            Money::sum(dollars(), posted.map(|one| one.amount)).unwrap(),
            Money::sum(dollars(), moved.map(|one| one.amount)).unwrap(),
            "{}",
            entry.text
        );
    }
}
