//! The shelf kept in memory: quantities and what they cost, drawn first in, first out by a few lines of its own.

use std::collections::BTreeMap;

use ledgerboard::rules::recording::MaterialsTiming;
use serde_json::Value;

use super::Business;
use super::reckoning::{cents, lines_of, millionths, shared};
use layers::{Layer, Lot, Moved, Why};

mod layers;
mod rebate;

/// What goes to no episode, project or piece.
const OVERHEAD: &str = "overhead";
/// Goes before the id of a piece that holds some of a lot.
const PIECE: &str = "piece ";

/// Every lot with what moved it; only of books that draw first in, first out.
#[derive(Default)]
pub(super) struct Shelf {
    lots: Vec<Lot>,
    /// The stock lines of each receipt, by their place.
    lines: BTreeMap<(String, i64), String>,
    /// Invoices that wait for their payment.
    unpaid: BTreeMap<String, Value>,
    /// Whether materials are deducted when they are paid.
    deducts_at_once: bool,
}

/// A record and its day.
#[derive(Clone, Copy)]
struct Of<'a> {
    record: &'a str,
    date: &'a str,
}

/// What `name` says in that part of a body, in the lots' own unit: a box holds twelve pieces.
fn pieces(said: &Value, name: &str) -> i128 {
    let in_one = if said["unit"] == "box" { 12 } else { 1 };
    millionths(&said[name]) * in_one
}

/// Where an issue goes, with weights.
fn holders(body: &Value) -> Vec<(String, i128)> {
    let shares = body["to"].as_array().map(Vec::as_slice).unwrap_or_default();
    let named = |one: &Value| match one["piece"].as_str() {
        Some(piece) => format!("{PIECE}{piece}"),
        None => one["episode"].as_str().or(one["project"].as_str()).unwrap_or(OVERHEAD).to_owned(),
    };
    if shares.is_empty() {
        return vec![(named(body), 1)];
    }
    let weight = |one: &Value| if one["share"].is_null() { 1 } else { millionths(&one["share"]) };
    shares.iter().map(|one| (named(one), weight(one))).collect()
}

impl Shelf {
    pub(super) fn of(timing: MaterialsTiming) -> Self {
        Self { deducts_at_once: timing == MaterialsTiming::WhenPaid, ..Self::default() }
    }

    fn lot(&mut self, id: &str) -> &mut Lot {
        self.lots.iter_mut().find(|one| one.id == id).unwrap()
    }

    fn moves(&mut self, lot: &str, of: Of<'_>, why: Why, layer: Layer, holder: Option<&str>) {
        let (record, date) = (of.record.to_owned(), of.date.to_owned());
        self.lot(lot).moves.push(Moved { record, date, why, layer, holder: holder.map(str::to_owned) });
    }

    fn arrives(&mut self, lot: &str, of: Of<'_>, stock: &Value, cents: i64) {
        let came = Layer { quantity: pieces(stock, "quantity"), cents };
        self.lots.push(Lot {
            id: lot.to_owned(),
            material: stock["material"].as_str().unwrap().to_owned(),
            record: of.record.to_owned(),
            came_on: of.date.to_owned(),
            came,
            moves: Vec::new(),
        });
    }

    fn is_bought<'a>(
        &mut self,
        purchase: &str,
        of: Of<'_>,
        receipt: &Value,
        rate: &Value,
        mut made: impl Iterator<Item = &'a str>,
    ) {
        let costs = lines_of(receipt, rate);
        for (place, (line, cents)) in (0..).zip(receipt["lines"].as_array().unwrap().iter().zip(costs)) {
            if line["stock"].is_object() {
                let lot = made.next().unwrap();
                self.arrives(lot, of, &line["stock"], cents);
                self.lines.insert((purchase.to_owned(), place), lot.to_owned());
            }
        }
    }

    /// What was sent, and the answer that took it.
    pub(super) fn hears(&mut self, path: &str, body: &Value, answer: &Value) {
        let of =
            Of { record: answer["id"].as_str().unwrap(), date: body["date"].as_str().unwrap_or_default() };
        let made = answer["things"].as_array().unwrap().iter().filter(|thing| thing["what"] == "materials");
        let mut made = made.map(|thing| thing["id"].as_str().unwrap());
        let parts: Vec<&str> = path.split('/').skip(2).collect();
        match parts.as_slice() {
            // In cash books an invoice brings nothing until it is paid.
            ["purchases"] if body["payment"] == "later" && answer["entries"] == serde_json::json!([]) => {
                self.unpaid.insert(of.record.to_owned(), body.clone());
            }
            ["purchases"] => self.is_bought(of.record, of, body, &body["rate"], made),
            ["purchases", purchase, "payment"] => {
                if let Some(receipt) = self.unpaid.remove(*purchase) {
                    let rate = if body["rate"].is_null() { &receipt["rate"] } else { &body["rate"] };
                    self.is_bought(purchase, of, &receipt, rate, made);
                }
            }
            ["openings"] if body["lot"].is_object() => {
                self.arrives(made.next().unwrap(), of, &body["lot"], cents(&body["lot"]["cost"]));
            }
            ["purchases", purchase, "returns"] => self.goes_back(purchase, of, body),
            ["materials", "issues"] => self.draws(body["material"].as_str().unwrap(), of, body),
            ["materials", lot, "issues"] => self.takes(lot, of, pieces(body, "quantity"), &holders(body)),
            ["materials", lot, "waste"] => {
                let spoilt = self.lot(lot).free_on(of.date).part(pieces(body, "quantity"));
                self.moves(lot, of, Why::Lost, spoilt.negated(), None);
            }
            ["materials", lot, "returns"] => {
                let holder = body["episode"].as_str().unwrap_or(OVERHEAD);
                let back = self.lot(lot).held_by(holder, of.date).part(pieces(body, "quantity"));
                self.moves(lot, of, Why::CameBack, back, Some(holder));
            }
            ["materials", lot, "counts"] => self.is_counted(lot, of, pieces(body, "counted")),
            _ => {}
        }
    }

    /// The vendor pays for it; where all of it goes back for less than it cost, the rest is lost with it.
    fn goes_back(&mut self, purchase: &str, of: Of<'_>, body: &Value) {
        for line in body["lines"].as_array().unwrap() {
            let place = (purchase.to_owned(), line["line"].as_i64().unwrap());
            let Some(lot) = self.lines.get(&place).cloned() else { continue };
            if line["goods"] == "kept" {
                self.is_rebated(&lot, of, line);
                continue;
            }
            let (quantity, refund) = (pieces(line, "quantity"), cents(&line["amount"]));
            let free = self.lot(&lot).free_on(of.date);
            let cents = if quantity == free.quantity { free.cents } else { refund };
            self.moves(&lot, of, Why::ToVendor, Layer { quantity, cents }.negated(), None);
        }
    }

    /// What is found over comes at no cost; what is short leaves at the lot's.
    fn is_counted(&mut self, lot: &str, of: Of<'_>, counted: i128) {
        let over = counted - self.lot(lot).quantity_on(of.date);
        if over > 0 {
            self.moves(lot, of, Why::FoundOver, Layer { quantity: over, cents: 0 }, None);
        } else if over < 0 {
            let short = self.lot(lot).free_on(of.date).part(-over);
            self.moves(lot, of, Why::Lost, short.negated(), None);
        }
    }

    fn takes(&mut self, lot: &str, of: Of<'_>, quantity: i128, holders: &[(String, i128)]) {
        let taken = self.lot(lot).free_on(of.date).part(quantity);
        let weights: Vec<i128> = holders.iter().map(|(_, weight)| *weight).collect();
        let costs = shared(i128::from(taken.cents), &weights);
        for ((holder, _), (quantity, cents)) in
            holders.iter().zip(shared(quantity, &weights).into_iter().zip(costs))
        {
            let part = Layer { quantity, cents: i64::try_from(cents).unwrap() };
            self.moves(lot, of, Why::Issued, part.negated(), Some(holder));
        }
    }

    fn draws(&mut self, material: &str, of: Of<'_>, body: &Value) {
        let mut left = pieces(body, "quantity");
        let of_it =
            self.lots.iter().filter(|one| one.material == material && one.came_on.as_str() <= of.date);
        let mut in_turn: Vec<(String, String, i128)> =
            of_it.map(|one| (one.came_on.clone(), one.id.clone(), one.free_on(of.date).quantity)).collect();
        in_turn.sort();
        for (_, lot, free) in in_turn {
            let part = left.min(free);
            if part > 0 {
                left -= part;
                self.takes(&lot, of, part, &holders(body));
            }
        }
        assert_eq!(left, 0, "more was issued than the lots held: {body}");
    }

    /// What all lots that stand cost as they came.
    pub(super) fn came_at(&self) -> i64 {
        self.lots.iter().map(|lot| lot.came.cents).sum()
    }

    fn records(&self) -> Vec<String> {
        let moved = self.lots.iter().flat_map(|lot| lot.moves.iter().map(|one| one.record.clone()));
        let mut all: Vec<String> = self.lots.iter().map(|lot| lot.record.clone()).chain(moved).collect();
        all.sort();
        all.dedup();
        all
    }

    fn forgets(&mut self, record: &str) {
        self.lots.retain(|lot| lot.record != record);
        for lot in &mut self.lots {
            lot.moves.retain(|one| one.record != record);
        }
    }
}

impl Business {
    /// What a reversal took back is off the shelf's memory: that record, or whatever stood on it as well.
    pub(super) fn forgets_what_was_taken_back(&mut self, record: &str, dependants: &Value) {
        let Some(shelf) = &mut self.shelf else { return };
        if dependants != "take_back" {
            return shelf.forgets(record);
        }
        for record in shelf.records() {
            if self.owner.reads(&format!("/v1/records/{record}"))["reversed_by"].is_string() {
                shelf.forgets(&record);
            }
        }
    }

    /// Lots that hold something else, or at another cost, than was kept in mind; there should be none.
    pub fn lots_apart(&self) -> Vec<String> {
        let Some(shelf) = &self.shelf else { return Vec::new() };
        let shown = self.owner.reads("/v1/materials?limit=200");
        let shown = shown["items"].as_array().unwrap().iter();
        let read = |lot: &Value| Layer {
            quantity: millionths(&lot["remaining_quantity"]),
            cents: cents(&lot["remaining_cost"]),
        };
        let mut lots: BTreeMap<String, (Layer, Layer)> = shown
            .map(|lot| (lot["id"].as_str().unwrap().to_owned(), (read(lot), Layer::default())))
            .collect();
        for lot in &shelf.lots {
            lots.entry(lot.id.clone()).or_default().1 = lot.left();
        }
        let apart = lots.iter().filter(|(_, (found, kept))| found != kept);
        apart.map(|(lot, (found, kept))| format!("{lot} holds {found:?} instead of {kept:?}")).collect()
    }

    /// For the control: the latest issue, loss or return of some quantity, where there was one.
    pub fn forgets_one_move(&mut self) -> Option<String> {
        let mut lots = self.shelf.iter_mut().flat_map(|shelf| &mut shelf.lots);
        let lot = lots.find(|lot| lot.moves.last().is_some_and(|one| one.layer.quantity != 0))?;
        lot.moves.pop();
        Some(lot.id.clone())
    }

    /// For the control: a lot is thought to have come a cent cheaper.
    pub fn forgets_one_cent(&mut self) -> Option<String> {
        let lot = self.shelf.as_mut()?.lots.first_mut()?;
        lot.came.cents -= 1;
        Some(lot.id.clone())
    }
}
