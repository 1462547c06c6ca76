//! The shelf kept in memory: what was asked for is drawn first in, first out by a few lines of its own.

use std::collections::BTreeMap;

use serde_json::Value;

use super::Business;

/// A quantity in hundredths that a record put into a lot, or took out, on a day.
struct Moved {
    record: String,
    date: String,
    hundredths: i64,
}

struct Lot {
    id: String,
    material: String,
    /// Its own arrival first.
    moves: Vec<Moved>,
}

impl Lot {
    /// The least that is in it from that day on: what a record dated back may take.
    fn free_on(&self, date: &str) -> i64 {
        let mut days: Vec<&str> =
            self.moves.iter().map(|one| one.date.as_str()).filter(|day| *day > date).collect();
        days.push(date);
        days.iter().map(|day| self.on(day)).min().unwrap_or_default()
    }

    fn on(&self, date: &str) -> i64 {
        self.moves.iter().filter(|one| one.date.as_str() <= date).map(|one| one.hundredths).sum()
    }

    fn came_on(&self) -> Option<&str> {
        self.moves.first().map(|one| one.date.as_str())
    }
}

/// Every lot with what moved it; only of books that draw first in, first out.
#[derive(Default)]
pub(super) struct Shelf {
    lots: Vec<Lot>,
    /// The stock lines of each receipt, by their place.
    lines: BTreeMap<(String, i64), String>,
    /// The lines of invoices that wait for their payment.
    unpaid: BTreeMap<String, Value>,
}

/// What `name` says in that part of a body, in the lots' own unit: a box holds twelve pieces.
fn pieces(said: &Value, name: &str) -> i64 {
    let in_one = if said["unit"] == "box" { 12 } else { 1 };
    hundredths(&said[name]) * in_one
}

fn hundredths(quantity: &Value) -> i64 {
    let text = quantity.as_str().unwrap();
    let (whole, rest) = text.split_once('.').unwrap_or((text, ""));
    format!("{whole}{rest:0<2}").parse().unwrap()
}

impl Shelf {
    fn moves(&mut self, lot: &str, record: &str, date: &str, hundredths: i64) {
        let lot = self.lots.iter_mut().find(|one| one.id == lot).unwrap();
        lot.moves.push(Moved { record: record.to_owned(), date: date.to_owned(), hundredths });
    }

    fn arrives(&mut self, lot: &str, record: &str, date: &str, stock: &Value) {
        let material = stock["material"].as_str().unwrap().to_owned();
        self.lots.push(Lot { id: lot.to_owned(), material, moves: Vec::new() });
        self.moves(lot, record, date, pieces(stock, "quantity"));
    }

    fn is_bought<'a>(
        &mut self,
        purchase: &str,
        record: &str,
        date: &str,
        lines: &Value,
        mut made: impl Iterator<Item = &'a str>,
    ) {
        for (place, line) in (0..).zip(lines.as_array().unwrap()) {
            if line["stock"].is_object() {
                let lot = made.next().unwrap();
                self.arrives(lot, record, date, &line["stock"]);
                self.lines.insert((purchase.to_owned(), place), lot.to_owned());
            }
        }
    }

    /// What was sent, and the answer that took it.
    pub(super) fn hears(&mut self, path: &str, body: &Value, answer: &Value) {
        let (record, date) = (answer["id"].as_str().unwrap(), body["date"].as_str().unwrap_or_default());
        let made = answer["things"].as_array().unwrap().iter().filter(|thing| thing["what"] == "materials");
        let mut made = made.map(|thing| thing["id"].as_str().unwrap());
        let parts: Vec<&str> = path.split('/').skip(2).collect();
        match parts.as_slice() {
            // In cash books an invoice brings nothing until it is paid.
            ["purchases"] if answer["things"].as_array().unwrap().is_empty() => {
                self.unpaid.insert(record.to_owned(), body["lines"].clone());
            }
            ["purchases"] => self.is_bought(record, record, date, &body["lines"], made),
            ["purchases", purchase, "payment"] => {
                if let Some(lines) = self.unpaid.remove(*purchase) {
                    self.is_bought(purchase, record, date, &lines, made);
                }
            }
            ["openings"] if body["lot"].is_object() => {
                self.arrives(made.next().unwrap(), record, date, &body["lot"]);
            }
            ["purchases", purchase, "returns"] => {
                let went = |line: &&Value| line["goods"] != "kept";
                for line in body["lines"].as_array().unwrap().iter().filter(went) {
                    let place = ((*purchase).to_owned(), line["line"].as_i64().unwrap());
                    if let Some(lot) = self.lines.get(&place).cloned() {
                        self.moves(&lot, record, date, -pieces(line, "quantity"));
                    }
                }
            }
            ["materials", "issues"] => self.draws(body["material"].as_str().unwrap(), record, date, body),
            ["materials", lot, "issues" | "waste"] => {
                self.moves(lot, record, date, -pieces(body, "quantity"));
            }
            ["materials", lot, "returns"] => self.moves(lot, record, date, pieces(body, "quantity")),
            ["materials", lot, "counts"] => {
                let there = self.lots.iter().find(|one| one.id == *lot).unwrap().on(date);
                self.moves(lot, record, date, pieces(body, "counted") - there);
            }
            _ => {}
        }
    }

    fn draws(&mut self, material: &str, record: &str, date: &str, body: &Value) {
        let mut left = pieces(body, "quantity");
        let of_it = self.lots.iter().filter(|one| one.material == material && one.came_on() <= Some(date));
        let mut in_turn: Vec<(String, String, i64)> = of_it
            .map(|one| (one.came_on().unwrap_or_default().to_owned(), one.id.clone(), one.free_on(date)))
            .collect();
        in_turn.sort();
        for (_, lot, free) in in_turn {
            let part = left.min(free);
            left -= part;
            if part > 0 {
                self.moves(&lot, record, date, -part);
            }
        }
        assert_eq!(left, 0, "more was issued than the lots held: {body}");
    }

    fn records(&self) -> Vec<String> {
        let mut all: Vec<String> =
            self.lots.iter().flat_map(|lot| lot.moves.iter().map(|one| one.record.clone())).collect();
        all.sort();
        all.dedup();
        all
    }

    fn forgets(&mut self, record: &str) {
        for lot in &mut self.lots {
            lot.moves.retain(|one| one.record != record);
        }
        self.lots.retain(|lot| !lot.moves.is_empty());
    }
}

impl Business {
    /// Whatever a reversal took back, its dependants among it, is off the shelf's memory.
    pub(super) fn forgets_what_was_taken_back(&mut self) {
        let Some(shelf) = &mut self.shelf else { return };
        for record in shelf.records() {
            if self.owner.reads(&format!("/v1/records/{record}"))["reversed_by"].is_string() {
                shelf.forgets(&record);
            }
        }
    }

    /// Lots that hold something else than what was put into them less what was taken out; there should be none.
    pub fn lots_apart(&self) -> Vec<String> {
        let Some(shelf) = &self.shelf else { return Vec::new() };
        let shown = self.owner.reads("/v1/materials?limit=200");
        let shown = shown["items"].as_array().unwrap().iter();
        let mut lots: BTreeMap<String, (i64, i64)> = shown
            .map(|lot| (lot["id"].as_str().unwrap().to_owned(), (hundredths(&lot["remaining_quantity"]), 0)))
            .collect();
        for lot in &shelf.lots {
            lots.entry(lot.id.clone()).or_default().1 = lot.moves.iter().map(|one| one.hundredths).sum();
        }
        let apart = lots.iter().filter(|(_, (found, kept))| found != kept);
        apart.map(|(lot, (found, kept))| format!("{lot} holds {found} instead of {kept}")).collect()
    }

    /// For the control: the latest move of a lot that had more than its arrival.
    pub fn forgets_one_move(&mut self) {
        let lots = self.shelf.iter_mut().flat_map(|shelf| &mut shelf.lots);
        let lot = lots.into_iter().find(|lot| lot.moves.len() > 1).unwrap();
        lot.moves.pop();
    }
}
